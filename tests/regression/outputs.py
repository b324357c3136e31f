"""What the commands say as JSON, recorded: `python tests/regression/outputs.py` records it again.

Only numbers, marks and kinds are kept: sentences depend on the language and are bettered often. The
scores and takes are those of ``tests`` (their credits stand beside them); the record says only
that something changed, not that it was right before.
"""

import json
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).parent
TESTS = HERE.parent
SCORES, TAKES = TESTS / "scores", TESTS / "takes"
RECORDS = HERE / "outputs"
# Keys under which a text for people stands.
TEXTS = frozenset(
    {"files", "horn_title", "how", "instruction", "name", "problem", "problems", "reason", "row",
     "text", "title", "warnings", "what", "why", "words"}
)  # fmt: skip
_NOTES = (
    "Eb3 D3 Db3 C3 B2 Bb2:2 (F3:0.5 Gb3:0.5 F3) r:2 Bb2~Ab2 D4:0.25 Eb4:0.25 F4:0.5 B1 Bb4 C2 E2"
)
_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_CHROMATIC = [f"{name}{octave}" for octave in (1, 2, 3, 4) for name in _NAMES]
HORNS = (
    "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent", "alto",
    "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
)  # fmt: skip


def cases():
    """(name, words of the command) of all that is recorded; ``OUT`` stands for a new folder."""
    yield "horns", ["horns"]
    for horn in HORNS:
        yield f"places-{horn}", ["places", *_CHROMATIC, "--horn", horn]
        yield f"line-{horn}", ["line", _NOTES, "--horn", horn, "--tempo", 96]
    yield "line-limits", ["line", _NOTES, "--horn", "tenor-f", "--reach", 5, "--valves", "none"]
    yield "line-beginner", ["line", _NOTES, "--horn", "tenor-f", "--profile", "beginner"]
    yield (
        "line-marks",
        ["line", _NOTES, "--horn", "bass-dependent", "--marks", "number,roman"],
    )
    for file, *more in (
        ("Slama_01.musicxml", "--horn", "tenor-f"),
        ("Bordogni_Vocalise_01_PD.musicxml", "--horn", "bass-independent"),
        ("Belcke_12_Etudes_08.musicxml", "--horn", "tenor", "--reach", 6),
        ("School_for_Trombone_026.mxl", "--show", "unusual"),
        ("Six_Grand_Etudes_01.mid", "--horn", "tenor-f", "--lock", "3:1=4"),
        ("MEI_5_Hopkins_GatherRoundTheChristmasTree.mei",),
    ):
        words = ["mark", SCORES / file, "--no-pdf", "-o", "OUT", *more]
        yield f"mark-{file.partition('.')[0]}", words
    for take in ("Trombone_Sustain_D3_v5_1.ogg", "tromboneF4_root53.wav", "Tuba_F3_root29.wav"):
        yield f"listen-{take.partition('.')[0]}", ["listen", TAKES / take]
    yield "chart", ["chart", "--horn", "tenor-f", "-o", "OUT/chart.pdf"]
    for kind in ("scales", "register", "alternates", "accuracy", "glissandi", "intonation"):
        words = ["drill", kind, "--horn", "tenor-f", "--seed", 7, "-o", "OUT"]
        # Sounds take long to make, and nothing is said of them here.
        yield f"drill-{kind}", [*words, "--drones", "none"] if kind == "intonation" else words


def run(words):
    """The JSON of a command, its texts left out; None with what it said where it failed."""
    from click.testing import CliRunner

    from handslide.faces.cli.main import main

    with TemporaryDirectory() as folder:
        argv = [str(word).replace("OUT", folder) for word in words]
        result = CliRunner().invoke(main, [*argv, "--json"])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return {"exit": result.exit_code, "json": bare(json.loads(result.stdout or "null"))}


def bare(value):
    """``value`` without texts; numbers rounded to what a change of machine leaves alone."""
    if isinstance(value, dict):
        return {key: bare(each) for key, each in value.items() if key not in TEXTS}
    if isinstance(value, list):
        return [bare(each) for each in value]
    return round(value, 6) if isinstance(value, float) else value


def record():
    """Write all records anew."""
    RECORDS.mkdir(exist_ok=True)
    for name, words in cases():
        text = json.dumps(run(words), indent=None, separators=(",", ":"), sort_keys=True)
        (RECORDS / f"{name}.json").write_text(text.replace("},{", "},\n{") + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(record())
