"""The faces of a page that is one file: cut to the letters that stand in it, or whole.

What is shipped as TrueType is cut and packed as WOFF, which Python can pack by itself; the text
faces, which are WOFF2 and small, go in as they are.
"""

import base64
import io
import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

from handslide.edges.htmlfile.scripts import shared


@dataclass(frozen=True, slots=True)
class Face:
    """A font of a page: its family, its file, and which weights and style it is for."""

    family: str
    file: str
    weight: str = "400"
    style: str = "normal"
    cut: bool = False
    ranges: str = ""


_EXT = "U+100-2BA,U+2BD-2C5,U+2C7-2CC,U+2CE-2D7,U+2DD-2FF,U+1E00-1E9F,U+1EF2-1EFF"
_BEYOND = re.compile("[\u0100-\u02ff\u1e00-\u1eff]")
TEXT = Face("Hyperlegible", "Hyperlegible.woff2", "200 800")
SERIF = Face("Libertinus Serif", "LibertinusSerif-Regular.woff2")
ITALIC = Face("Libertinus Serif", "LibertinusSerif-Italic.woff2", style="italic")
BOLD = Face("Libertinus Serif", "LibertinusSerif-Bold.woff2", "700")
MARKS = Face("Handslide Marks", "HandslideMarks-Bold.ttf", "700", cut=True)
MUSIC = Face("Handslide Music", "HandslideMusic-Regular.ttf", cut=True)
_PRIVATE = re.compile("[\ue000-\uf8ff]")


def faces_for(drawings: str, text: str) -> tuple[Face, ...]:
    """The faces that engraved music and the texts around it need."""
    found = [TEXT, SERIF, MARKS]
    if 'font-style="italic"' in drawings:
        found.append(ITALIC)
    if 'font-weight="bold"' in drawings:
        found.append(BOLD)
    if _PRIVATE.search(drawings) or "♩" in text:
        found.append(MUSIC)
    if _BEYOND.search(drawings + text):
        found += [_further(face) for face in found if face.family == SERIF.family]
    return tuple(found)


def _further(face: Face) -> Face:
    """The file with the letters beyond Western Europe's."""
    file = face.file.replace(".woff2", "-Ext.woff2")
    return Face(face.family, file, face.weight, face.style, ranges=_EXT)


def face_css(face: Face, letters: Collection[str]) -> str:
    """The ``@font-face`` rule with the font in it; a face that is cut has only these letters."""
    kept = frozenset(letters) if face.cut else frozenset()
    kind, data = _packed(face.file, kept) if face.cut else ("woff2", _whole(face.file))
    packed = base64.b64encode(data).decode()
    ranges = f"unicode-range:{face.ranges};" if face.ranges else ""
    return (
        f'@font-face{{font-family:"{face.family}";font-weight:{face.weight};'
        f"font-style:{face.style};font-display:block;{ranges}"
        f'src:url(data:font/{kind};base64,{packed}) format("{kind}")}}'
    )


def licences_of(faces: Collection[Face]) -> tuple[str, ...]:
    """The licences of fonts, as they must go along with them."""
    names = dict.fromkeys(face.file.partition("-")[0].partition(".")[0] for face in faces)
    files = (shared("fonts") / f"{name}-LICENSE.txt" for name in names)
    return tuple(file.read_text(encoding="utf-8").strip() for file in files)


def _whole(file: str) -> bytes:
    return (shared("fonts") / file).read_bytes()


@lru_cache(maxsize=16)
def _packed(file: str, letters: frozenset[str]) -> tuple[str, bytes]:
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    font = TTFont(io.BytesIO(_whole(file)), recalcTimestamp=False, lazy=True)
    options = Options()
    options.hinting = False
    options.drop_tables = [*options.drop_tables, "FFTM"]
    options.name_IDs = [0, 1, 2, 13, 14]  # copyright, names, licence
    cut = Subsetter(options)
    cut.populate(unicodes=[ord(letter) for letter in letters])
    cut.subset(font)
    font.flavor = "woff"
    out = io.BytesIO()
    font.save(out)
    return "woff", out.getvalue()
