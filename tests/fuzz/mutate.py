"""Mutations that know what they change: XML, zip archives, JSON, TOML, rows, bytes.

Each takes a source of chance and a whole input, and gives another. The chance may be Hypothesis's,
which shrinks what it finds, or a plain one, which is quicker.
"""

import io
import json
import re
import zipfile

import pikepdf
from pikepdf import Array, Dictionary, Name

NUMBERS = (
    "0", "-0", "1", "-1", "2", "3", "7", "127", "128", "255", "65536", "99999999", "2147483648",
    "9223372036854775808", "1e9", "1e-320", "1e308", "1e400", "-1e400", "nan", "inf", "0.5", "1/3",
    "0x10", "1_000", "²", "٣", " 4 ", "", "9" * 40, "9" * 5000, "-" + "9" * 400, "+1", "1.", ".5",
)  # fmt: skip
TEXTS = (
    "", " ", "x", "\n", "\t", "é", "\u202e", "\u009b", "x" * 300, "x" * 10_000, "<", "&amp;", "&",
    "]]>", "--", "../../x", "/dev/zero", "%s", "{x}", "{0}", "=1+1", "'", '"', "\\", "Bb2", "yes",
    "no", "P1", "1", "true", "null", "none",
)  # fmt: skip
_TAG = re.compile(rb"<[^<>]+>")
_VALUE = re.compile(rb">([^<>]{1,40})<|=\"([^\"<>]{0,40})\"")
_ELEMENT = re.compile(rb"<(\w[\w-]*)[^<>]*>[^<>]*</\1>|<\w[^<>]*/>")


def xml(chance, data, others=()):
    """MusicXML with elements lost, doubled, moved, emptied, values changed."""
    for _ in range(chance.randint(1, 4)):
        data = chance.choice(_XML)(chance, data)
    return bytes_of(chance, data, others) if chance.random() < 0.05 else data


def _near(chance, pattern, data):
    """A piece of ``data`` that fits, near a place of chance."""
    start = chance.randint(0, max(len(data) - 1, 0))
    return pattern.search(data, start) or pattern.search(data)


def _value(chance, data):
    found = _near(chance, _VALUE, data)
    if found is None:
        return data
    group = 1 if found[1] is not None else 2
    value = chance.choice(NUMBERS if chance.random() < 0.7 else TEXTS).encode("utf-8", "replace")
    return data[: found.start(group)] + value + data[found.end(group) :]


def _lose(chance, data):
    found = _near(chance, _ELEMENT if chance.random() < 0.9 else _TAG, data)
    return data if found is None else data[: found.start()] + data[found.end() :]


def _double(chance, data):
    found = _near(chance, _ELEMENT, data)
    if found is None:
        return data
    times = chance.choice((1, 1, 1, 2, 30))
    return data[: found.end()] + found[0] * times + data[found.end() :]


def _move(chance, data):
    found = _near(chance, _ELEMENT, data)
    if found is None:
        return data
    rest = data[: found.start()] + data[found.end() :]
    place = _near(chance, _TAG, rest)
    return data if place is None else rest[: place.end()] + found[0] + rest[place.end() :]


def _swap(chance, data):
    one, other = _near(chance, _ELEMENT, data), _near(chance, _ELEMENT, data)
    if one is None or other is None or one.end() > other.start():
        return data
    between = data[one.end() : other.start()]
    return data[: one.start()] + other[0] + between + one[0] + data[other.end() :]


def _rename(chance, data):
    found = _near(chance, _ELEMENT, data)
    if found is None or found[1] is None:
        return data
    name = chance.choice(
        (b"note", b"rest", b"chord", b"grace", b"backup", b"forward", b"attributes", b"duration",
         b"measure", b"x", b"pitch", b"tie", b"time", b"barline", b"ending", b"repeat")
    )  # fmt: skip
    piece = found[0].replace(found[1], name)
    return data[: found.start()] + piece + data[found.end() :]


_INSERTED = (
    b"<backup><duration>1000000</duration></backup>", b"<forward><duration>4</duration></forward>",
    b"<attributes/>", b"<attributes><divisions>0</divisions></attributes>",
    b"<attributes><time><beats>4</beats></time></attributes>", b"<note><rest/></note>",
    b"<note><chord/><pitch><step>B</step><octave>2</octave></pitch></note>",
    b"<note><grace/><pitch><step>B</step><alter>-1</alter><octave>2</octave></pitch></note>",
    b"<barline><repeat direction='backward' times='99'/></barline>",
    b"<barline><ending number='1' type='start'/></barline>", b"<sound dacapo='yes'/>",
    b"<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>",
    b"<attributes><clef><sign>C</sign><line>9</line></clef></attributes>",
    b"<attributes><transpose><chromatic>-99</chromatic></transpose></attributes>",
    b"<attributes><staves>9</staves></attributes>", b"<?handslide mark notations?>",
    b"<print new-system='yes'/>", b"<!-- x -->", b"<dot/>", b"<tie type='start'/>", b"<measure/>",
    b"<part id='P9'/>", b"<voice>9</voice>", b"<staff>7</staff>", b"<notations/>",
)  # fmt: skip


def _insert(chance, data):
    place = _near(chance, _TAG, data)
    if place is None:
        return data
    return data[: place.end()] + chance.choice(_INSERTED) + data[place.end() :]


_XML = (_value, _value, _value, _lose, _double, _move, _swap, _rename, _insert)


def bytes_of(chance, data, others=()):
    """Bytes with some changed, lost, doubled, or a piece of another input among them."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        if not made:
            return bytes(made)
        at = chance.randint(0, len(made) - 1)
        if chance.random() < 0.5:  # headers matter most
            at = min(at, chance.randint(0, 200))
        what = chance.randint(0, 6)
        if what == 0:
            made[at] ^= 1 << chance.randint(0, 7)
        elif what == 1:
            made[at] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, 10, 60))
        elif what == 2:
            del made[at : at + chance.choice((1, 2, 4, 100))]
        elif what == 3:
            made[at:at] = made[at : at + chance.choice((1, 4, 64))]
        elif what == 4:
            size = chance.choice((2, 4, 8))
            made[at : at + size] = chance.choice(
                (b"\0" * size, b"\xff" * size, b"\x7f" + b"\xff" * (size - 1), b"\xff" * 3)
            )
        elif what == 5 and others:
            other = chance.choice(others)
            start = chance.randint(0, max(len(other) - 1, 0))
            made[at : at + 16] = other[start : start + 32]
        else:
            del made[at:]
    return bytes(made)


def zipped(chance, data, change, others=()):
    """An archive with an entry changed by ``change``, lost, doubled, renamed, or bytes changed."""
    if chance.random() < 0.3:
        return bytes_of(chance, data, others)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = [(info.filename, archive.read(info)) for info in archive.infolist()]
    at = chance.randint(0, len(entries) - 1)
    name, content = entries[at]
    what = chance.randint(0, 4)
    if what == 0:
        del entries[at]
    elif what == 1:
        entries[at] = (chance.choice((*TEXTS, name.upper(), f"/{name}"))[:2000], content)
    else:
        entries[at] = (name, change(chance, name, content))
    made = io.BytesIO()
    method = chance.choice((0, *[8] * 20, 12, 14))  # the last two are refused, and slow to make
    with zipfile.ZipFile(made, "w", method) as archive:
        for name, content in entries:
            archive.writestr(zipfile.ZipInfo(name or "x"), content, compress_type=method)
    return made.getvalue()


JUNK = (
    None, True, False, 0, -1, 1e300, 10**30, "", "x", "\ud800", "Bb2", [], [1], {}, {"kind": "x.y"},
    {"kind": 7}, [[[]]], "9" * 5000, -0.0, 0.5, {"pitch": "H9"}, {"place": {}},
)  # fmt: skip


def values(chance, value):
    """A JSON value with one of its values changed, lost or put elsewhere."""
    path, held = [], value
    while isinstance(held, dict | list) and held and chance.random() < 0.85:
        key = chance.choice(sorted(held) if isinstance(held, dict) else list(range(len(held))))
        path.append(key)
        held = held[key]
    new = json.loads(json.dumps(value))
    if not path:
        return chance.choice(JUNK)
    holder = new
    for key in path[:-1]:
        holder = holder[key]
    if chance.random() < 0.2:
        del holder[path[-1]]
    else:
        holder[path[-1]] = chance.choice(JUNK)
    return new


def text(chance, data, others=()):
    """TOML or rows with a word or a line changed, lost, doubled."""
    if chance.random() < 0.1:
        return bytes_of(chance, data, others)
    words = re.split(rb"([\s,;=\[\]{}\"]+)", data)
    for _ in range(chance.randint(1, 3)):
        at = chance.randint(0, len(words) - 1)
        what = chance.randint(0, 4)
        if what == 0:
            words[at] = b""
        elif what == 1:
            words[at] = words[at] * 2
        elif what == 2:
            words[at] = chance.choice((b"=", b"[", b"]", b'"', b"\n", b",", b"[[", b"''", b"#"))
        else:
            pool = NUMBERS if what == 3 else TEXTS
            words[at] = chance.choice(pool).encode("utf-8", "replace")
    return b"".join(words)


_PDF_VALUES = (
    0, 1, -1, 2, 255, 65536, 10**12, True, "x", b"\xff\xfe", Name.Type3, Name.Type0,
    Name("/Identity-V"), Name.LZWDecode, Array([]), Array([1, 2, 3, 4]), Array([0, 10**9, 1]),
    Dictionary(), Dictionary(Differences=Array([200, Name.a, Name.b])),
)  # fmt: skip


def pdf(chance, data, others=()):
    """A PDF with values of its objects changed, lost or led elsewhere, or the words of a stream."""
    if chance.random() < 0.2:
        return bytes_of(chance, data, others)
    try:
        with pikepdf.open(io.BytesIO(data)) as opened:
            for _ in range(chance.randint(1, 3)):
                _change_object(chance, opened)
            out = io.BytesIO()
            opened.save(out, compress_streams=False, static_id=True)
    except pikepdf.PdfError:  # a change on a change that can't be written
        return bytes_of(chance, data, others)
    return out.getvalue()


def _change_object(chance, opened):
    held = [each for each in opened.objects if isinstance(each, Dictionary | pikepdf.Stream)]
    changed = chance.choice(held)
    if isinstance(changed, pikepdf.Stream) and chance.random() < 0.7:
        content = changed.read_bytes()
        printable = all(byte < 128 for byte in content[:200])
        changed.write((text if printable and content else bytes_of)(chance, content or b"0"))
        return
    keys = sorted(key for key in changed.keys() if key != "/Length")  # noqa: SIM118 (not iterable)
    if not keys:
        return
    key = chance.choice(keys)
    what = chance.randint(0, 3)
    if what == 0:
        del changed[key]
    elif what == 1:
        changed[key] = chance.choice(held)
    else:
        changed[key] = chance.choice(_PDF_VALUES)
