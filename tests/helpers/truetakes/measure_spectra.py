"""Write spectra.csv: levels of the harmonics of recorded notes, for tones made without recordings.

A Blackman window over up to a second of the steady middle; the level of a harmonic is that of the
highest bin within 2 % of its place. Run from the project folder where the shared recordings are:
python tests/helpers/truetakes/measure_spectra.py
"""

import csv
from pathlib import Path

import numpy as np
import soundfile

HERE = Path(__file__).resolve().parent
SHARED = HERE.parents[3] / "shared" / "audio"
MOST, TOP_HZ, FLOOR_DB = 40, 9000.0, -75.0


def levels_db(samples, rate_hz, f0_hz):
    """Levels of the harmonics below the strongest, dB, shape (m,)."""
    count = min(round(rate_hz), len(samples) * 3 // 5)
    middle = len(samples) * 2 // 5
    cut = samples[max(0, middle - count // 2) :][:count]
    spectrum = np.abs(np.fft.rfft(cut * np.blackman(len(cut)), 1 << 18))
    bins_hz = rate_hz / (1 << 18)
    found = []
    for number in range(1, MOST + 1):
        place = number * f0_hz / bins_hz
        if number * f0_hz > min(TOP_HZ, 0.45 * rate_hz):
            break
        low, high = int(place * 0.98), int(place * 1.02) + 2
        found.append(spectrum[low:high].max())
    levels = 20 * np.log10(np.array(found) / max(found))
    return np.maximum(levels, FLOOR_DB)


def main():
    with (HERE / "spectra.csv").open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["instrument", "f0_hz", "levels_db", "licence", "source"])
        for row in csv.DictReader((SHARED / "index.csv").open(encoding="utf-8")):
            if not row["agreed_hz"]:
                continue
            samples, rate_hz = soundfile.read(SHARED / row["file"], always_2d=True)
            f0_hz = float(row["agreed_hz"])
            levels = levels_db(samples.mean(axis=1), rate_hz, f0_hz)
            text = " ".join(f"{level:.0f}" for level in levels)
            licence = row["licence"].split(" (")[0]
            table.writerow([row["instrument"], f"{f0_hz:.2f}", text, licence, row["file"]])


if __name__ == "__main__":
    main()
