"""A page that is one file: HTML with its scripts, styles, fonts and drawings in it.

Nothing in it leads out, and its content security policy allows no request at all: scripts and
styles are only those whose hash it names, pictures, fonts and sounds only those that are in it.
Texts come from outside and are escaped; drawings and glyphs are our own SVG.

A page is a row of *blocks*. Each is a section with what can be read without a script, and data for
the script that its kind has in ``data/scripts``; drawings that only a script wants are packed.
"""

import base64
import gzip
import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from html import escape
from typing import Any

from handslide.edges.htmlfile.fonts import face_css, faces_for, licences_of
from handslide.edges.htmlfile.scripts import joined_scripts, shared

_STYLES = ("tokens", "slide", "music", "heard", "handout")
_SCRIPT = "handout"
_LETTERS = re.compile(r"<[^>]*>")


@dataclass(frozen=True, slots=True)
class HtmlSound:
    """A recording: its file, of which type, and what it is called."""

    data: bytes
    media_type: str
    label: str


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes to tick beside each other; the page remembers them.

    ``label`` says what they are of; ``rows`` are (key within the block, text beside the box). With
    ``rates`` the texts can be pressed: each is a tempo, as a share of that of the block.
    """

    label: str
    rows: tuple[tuple[str, str], ...]
    rates: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class HtmlBlock:
    """A section of a page.

    ``kind`` names the script that sets it up, ``name`` is its id and what the page's memory keeps
    it by, ``heading`` stands over it (None: the page's title is its own), its ``number`` before it.
    ``drawings`` are shown as they are, below each other, until the script takes over, and on paper.
    ``data`` is JSON for the script; ``packed`` are long texts for it by name, such as other
    engravings. ``notes`` are (term, what it means) rows under it, ``lists`` headings with sentences
    below these. ``sound`` is a recording that stands in it. ``said`` are sentences below its
    heading, ``aside`` stands beside that. ``group`` heads this block and those after it,
    ``group_note`` says more of them.
    """

    kind: str
    name: str
    heading: str | None
    drawings: tuple[str, ...]
    data: Mapping[str, Any]
    packed: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[tuple[str, str], ...] = ()
    lists: tuple[tuple[str, tuple[str, ...]], ...] = ()
    sound: HtmlSound | None = None
    number: str = ""
    said: tuple[str, ...] = ()
    aside: str = ""
    boxes: tuple[Boxes, ...] = ()
    group: str = ""
    group_note: str = ""


@dataclass(frozen=True, slots=True)
class HtmlPage:
    """What a page says and holds.

    ``lines`` stand under its title, ``notices`` below these; ``notes`` are (term, what it means)
    rows of all blocks and ``cautions`` sentences, both at its end. ``texts`` are the script's, by
    key; ``data`` is JSON for all blocks. ``settings`` become the attributes ``data-…`` of the
    page's root. ``legal`` is the heading over the licences of what is in it.
    """

    title: str
    lines: tuple[str, ...]
    blocks: tuple[HtmlBlock, ...]
    texts: Mapping[str, str]
    data: Mapping[str, Any]
    glyphs: Mapping[str, str]
    language: str
    settings: Mapping[str, str]
    without_script: str
    legal: str
    notices: tuple[str, ...] = ()
    notes: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()


def html_file(page: HtmlPage) -> bytes:
    """The page as the bytes of one file, UTF-8."""
    script = joined_scripts(_SCRIPT)
    glyphs = "".join(page.glyphs.values())
    body = "".join((
        f'<svg class="glyphs" aria-hidden="true"><defs>{glyphs}</defs></svg>',
        _header(page),
        f'<main id="main">{_sections(page)}</main>',
        _end(page),
        _json("texts", page.texts),
        _json("page-data", page.data),
    ))  # fmt: skip
    letters, drawings = _letters(page)
    faces = faces_for(drawings, letters)
    style = "".join(face_css(face, set(letters)) for face in faces) + _styles()
    legal = _legal(page, licences_of(faces))
    settings = "".join(f' data-{key}="{escape(value)}"' for key, value in page.settings.items())
    html = (
        f'<!doctype html>\n<html lang="{escape(page.language)}"{settings}>\n<head>\n'
        '<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(script, style)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">\n'
        '<meta name="referrer" content="no-referrer">\n'
        '<meta name="format-detection" content="telephone=no">\n'
        f"<title>{escape(page.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"{body}{legal}\n<script>{script}</script>\n</body>\n</html>\n"
    )
    return html.encode()


def _policy(script: str, style: str) -> str:
    inside = ("data:", "blob:")
    rules = {
        "default-src": ("'none'",), "script-src": (_hash(script),), "style-src": (_hash(style),),
        "img-src": inside, "font-src": ("data:",), "media-src": inside,
        "base-uri": ("'none'",), "form-action": ("'none'",),
    }  # fmt: skip
    return "; ".join(" ".join((name, *allowed)) for name, allowed in rules.items())


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def _styles() -> str:
    found = ((shared("styles") / f"{name}.css").read_text(encoding="utf-8") for name in _STYLES)
    return "\n".join(re.sub(r"/\*.*?\*/", "", text, flags=re.S) for text in found)


def _header(page: HtmlPage) -> str:
    lines = "".join(f"<p>{escape(line)}</p>" for line in page.lines)
    notices = "".join(f'<p class="notice">{escape(line)}</p>' for line in page.notices)
    without = f'<noscript><p class="notice">{escape(page.without_script)}</p></noscript>'
    return (
        f'<header class="head"><div class="head-words"><h1>{escape(page.title)}</h1>'
        f'<div class="head-lines">{lines}</div></div>{notices}{without}</header>'
    )


def _end(page: HtmlPage) -> str:
    cautions = "".join(f"<p>{escape(line)}</p>" for line in page.cautions)
    if not (page.notes or cautions):
        return ""
    return f'<aside class="end">{_signs(page.notes)}{cautions}</aside>'


def _sections(page: HtmlPage) -> str:
    level = 3 if any(block.group for block in page.blocks) else 2
    return "".join(_section(block, level) for block in page.blocks)


def _section(block: HtmlBlock, level: int) -> str:
    lists = "".join(
        f"<div><h{level + 1}>{escape(head)}</h{level + 1}><ul>"
        f"{''.join(f'<li>{escape(said)}</li>' for said in rows)}</ul></div>"
        for head, rows in block.lists
    )
    lists = f'<div class="lists">{lists}</div>' if lists else ""
    packed = "".join(
        f'<script type="text/plain" data-packed="{escape(key)}">{_pack(text)}</script>'
        for key, text in block.packed.items()
    )
    sheet = f'<div class="sheet music">{"".join(block.drawings)}</div>' if block.drawings else ""
    said = "".join(f'<p class="said">{escape(line)}</p>' for line in block.said if line)
    return (
        f'{_group(block)}<section class="block" id="{escape(block.name)}" '
        f'data-kind="{escape(block.kind)}">{_heading(block, level)}{said}'
        f"{''.join(map(_boxes, block.boxes))}{sheet}{_sound(block)}{_signs(block.notes)}{lists}"
        f"{_json(f'{block.name}-data', block.data)}{packed}</section>"
    )


def _sound(block: HtmlBlock) -> str:
    sound = block.sound
    if sound is None:
        return ""
    packed = base64.b64encode(sound.data).decode()
    return (
        f'<figure class="recording"><figcaption>{escape(sound.label)}</figcaption>'
        f'<audio controls preload="metadata" aria-label="{escape(sound.label)}" '
        f'src="data:{sound.media_type};base64,{packed}"></audio></figure>'
    )


def _group(block: HtmlBlock) -> str:
    if not block.group:
        return ""
    note = f"<p>{escape(block.group_note)}</p>" if block.group_note else ""
    return f'<div class="group"><h2>{escape(block.group)}</h2>{note}</div>'


def _heading(block: HtmlBlock, level: int) -> str:
    if block.heading is None:
        return ""
    number = f'<span class="number">{escape(block.number)}</span> ' if block.number else ""
    aside = f'<p class="beside">{escape(block.aside)}</p>' if block.aside else ""
    return (
        f'<div class="block-head"><h{level} id="{escape(block.name)}-title">{number}'
        f"{escape(block.heading)}</h{level}>{aside}</div>"
    )


def _boxes(boxes: Boxes) -> str:
    found = []
    for at, (key, text) in enumerate(boxes.rows):
        box = f'<input type="checkbox" data-tick="{escape(key)}" autocomplete="off"'
        if boxes.rates:
            found.append(
                f'<span class="box">{box} aria-label="{escape(text)}"><button type="button" '
                f'data-rate="{boxes.rates[at]:.5g}">{escape(text)}</button></span>'
            )
        else:
            found.append(f'<label class="box">{box}><span>{escape(text)}</span></label>')
    label = escape(boxes.label)
    return f'<div class="boxes" role="group" aria-label="{label}">{"".join(found)}</div>'


def _signs(notes: Iterable[tuple[str, str]]) -> str:
    rows = "".join(
        f'<div><dt class="mark">{escape(term)}</dt><dd>{escape(said)}</dd></div>'
        for term, said in notes
    )
    return f'<dl class="signs">{rows}</dl>' if rows else ""


def _pack(text: str) -> str:
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode()


def _json(name: str, value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return f'<script type="application/json" id="{escape(name)}">{text}</script>'


def _legal(page: HtmlPage, licences: Sequence[str]) -> str:
    texts = "".join(f"<pre>{escape(text)}</pre>" for text in licences)
    return (
        f'<footer class="legal"><details><summary>{escape(page.legal)}</summary>'
        f"{texts}</details></footer>"
    )


def _letters(page: HtmlPage) -> tuple[str, str]:
    """All that may be written in a page, and its drawings as one text."""
    drawings = "".join(_drawings(page))
    said: Iterable[str] = (
        page.title, *page.lines, *page.notices, *page.cautions, *page.texts.values(),
        *(json.dumps(asdict(replace(block, drawings=(), packed={}, sound=None)), ensure_ascii=False)
          for block in page.blocks),
        json.dumps(page.notes, ensure_ascii=False),
        json.dumps(page.data, ensure_ascii=False), _LETTERS.sub("", drawings),
        "0123456789",
    )  # fmt: skip
    return "".join(sorted(set("".join(said)))), drawings


def _drawings(page: HtmlPage) -> Iterable[str]:
    for block in page.blocks:
        yield from block.drawings
        yield from block.packed.values()
