"""What signs of an unknown font are taken for: each known font is left out in turn.

    python benchmarks/pdf_signs.py [--wrong]

For plain signs (clefs, heads, accidentals, rests, flags, digits) how many are known and right, and
how many of all other signs are taken for one of them; the same for those that nobody is asked about
(`Sign.known`, `Sign.sure`). Handwriting fonts are counted apart. The time of a shape is beside that
of PDFium for rendering it as a page of its own.
"""

import argparse
import io
import time

import numpy as np
import pikepdf
import pypdfium2

from handslide.edges.pdfparts.raster import Shape
from handslide.edges.pdfparts.signs import Sign, Signs, _family, _table

HANDWRITTEN = {"Petaluma"}
PLAIN = {
    "clef.G", "clef.F", "clef.C", "head.black", "head.half", "head.whole", "dot", "rest.bar",
    "rest.4", "rest.8", "rest.16", "rest.32", "flag.1", "flag.2", "flag.3", "meter.common",
    "meter.cut", *(f"acc.{alter}" for alter in range(-2, 3)), *(f"digit.{n}" for n in range(10)),
}  # fmt: skip


def left_out() -> list[tuple[str, str, Sign]]:
    """(font, its kind, what it is taken for) of every sign, its own font not known."""
    table, found = _table(()), []
    for font in sorted(set(table.fonts)):
        signs = Signs.load(without=[font])
        for at in np.flatnonzero(table.fonts == font):
            x0, y0, width, height = map(float, table.boxes[at])
            shape = Shape(table.pictures[at].reshape(24, 24), x0, y0, width, height)
            found.append((str(font), table.kinds[at], signs._matched(shape, "")))
    return found


def tell(name: str, rows: list[tuple[str, str, Sign]], wrong_too: bool) -> None:
    plain = [row for row in rows if _family(row[1]) in PLAIN]
    others = [row for row in rows if _family(row[1]) not in PLAIN]
    for what in ("known", "sure"):
        said = [row for row in plain if getattr(row[2], what)]
        right = sum(_family(kind) == _family(sign.kind) for _, kind, sign in said)
        taken = [row for row in others if getattr(row[2], what) and _family(row[2].kind) in PLAIN]
        print(
            f"{name:<12} {what:<6} plain {len(plain):4}  right {right / len(plain):6.1%}  "
            f"wrong {(len(said) - right) / len(plain):5.1%}  "
            f"others {len(others):4}  taken for plain {len(taken) / len(others):5.1%}"
        )
        bad = [row for row in said if _family(row[1]) != _family(row[2].kind)]
        for font, kind, sign in [*bad, *taken] if wrong_too else ():
            print(f"    {font}: {kind} -> {sign.kind} {sign.distance:.2f} {sign.margin:.2f}")


def times() -> None:
    """Milliseconds of a shape that was never seen, beside a page of it rendered."""
    side = np.linspace(0, 2 * np.pi, 65)[:-1]
    shapes = [[list(zip(np.cos(side), (1 + n / 400) * np.sin(side)))] for n in range(200)]
    signs = Signs.load()
    start = time.process_time()
    for shape in shapes:
        signs.of_outline(shape)
    ours = (time.process_time() - start) / len(shapes)
    path = " ".join(f"{10 * x + 20} {10 * y + 20} {'l' if n else 'm'}" for n, (x, y) in
                    enumerate(shapes[0][0]))  # fmt: skip
    pdf, data = pikepdf.new(), io.BytesIO()
    pdf.add_blank_page(page_size=(40, 40)).obj.Contents = pikepdf.Stream(pdf, f"{path} f".encode())
    pdf.save(data)
    start = time.process_time()
    for _ in shapes:
        pypdfium2.PdfDocument(data.getvalue())[0].render(scale=24 / 40)
    peer = (time.process_time() - start) / len(shapes)
    print(f"a shape {1000 * ours:.2f} ms, PDFium's page {1000 * peer:.2f} ms: {ours / peer:.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--wrong", action="store_true", help="list what is taken wrongly")
    wrong_too = parser.parse_args().wrong
    rows = left_out()
    tell("engraved", [row for row in rows if row[0] not in HANDWRITTEN], wrong_too)
    tell("handwritten", [row for row in rows if row[0] in HANDWRITTEN], wrong_too)
    times()


if __name__ == "__main__":
    main()
