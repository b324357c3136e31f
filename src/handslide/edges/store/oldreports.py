"""Reports of takes as studios of form 1 stored them, made into reports of facts.

Form 1 kept English sentences, and some numbers two or three times. What its sentences told is kept
as facts (`handslide.edges.store.oldsentences`), numbers are kept once, each as precisely as it was
stored. A sentence that can't be told anew is kept word for word, and what isn't known is passed on
as it is: nothing is lost.
"""

from collections.abc import Iterable, Mapping
from itertools import chain
from typing import Any

from handslide.edges.store import oldsentences as old
from handslide.edges.store.oldsentences import Json

_BETWEEN = " · "
_CLOSING = (
    "Nothing left the teacher's machine; for recordings of minors follow your local rules and get "
    "consent first."
)
_FIND_OUT = "First find out which part this is, and how it is read."
_ABOUT_FREE = (
    "Free playing: each note beside the nearest note of the horn in its usual place; the numbers "
    "above are minutes and seconds."
)
_LEGEND = {
    "as played", "how sure the pitch is", "slide 12 mm further out", "slide 12 mm further in",
    "another note (its name below)", "in another octave", "not heard", "not sure",
}  # fmt: skip
# What is told anew from the notes, or stands elsewhere in the report.
_TOLD_ELSEWHERE = ("title", "counts", "left_out", "notes", "habits", "practice", "warnings")


def report_of_version_1(report: Mapping[str, Any]) -> Json:
    """A report of form 1, the JSON in the column ``take.report``, as one of form 2.

    A report of another form is given back as it is.
    """
    if report.get("form", 1) != 1:
        return dict(report)
    listen, sheet = report.get("listen", {}), report.get("sheet", {})
    kept = {key: value for key, value in report.items() if key not in ("listen", "sheet", "form")}
    new: Json = {"form": 2} | kept
    if "doubt" in report:
        new["doubt"] = None if report["doubt"] is None else _doubt(report["doubt"])
    if "summary" in report:
        new["summary"] = _summary(report)
    if "horn" in report:
        new["horn"] = old.fact_of(old.HORNS, report["horn"])
    if "left_out" in report:
        new["left_out"] = [
            row | {"why": old.fact_of(old.LEFT_OUT, row["why"])} for row in report["left_out"]
        ]
    if "notes" in report:
        new |= _notes(report)
    return new | _of_listen(report, listen, new) | _of_sheet(report, sheet)


def _doubt(text: str) -> Json:
    return old.fact_of(old.DOUBTS, text)


def _summary(report: Mapping[str, Any]) -> list[Json]:
    """The counts; where the page said its doubt instead of them, those of the sheet."""
    text = report["summary"]
    if text != report.get("doubt"):
        return old.facts_of(old.COUNTS, text, _BETWEEN)
    counts = _counts_on_sheet(report)
    return [_doubt(text)] if counts is None else old.facts_of(old.COUNTS, counts, _BETWEEN)


def _counts_on_sheet(report: Mapping[str, Any]) -> str | None:
    lines: list[str] = report.get("sheet", {}).get("lines", [])
    return lines[1] if len(lines) > 1 else None


# The notes: once, of what stood in the page's table, in the JSON of listen and on the sheet.


def _notes(report: Mapping[str, Any]) -> Json:
    listen = report.get("listen", {}).get("notes", [])
    drawn = report.get("sheet", {}).get("report", {}).get("notes", [])
    shown = {row["of"]: (row, number) for number, row in enumerate(report["notes"])}
    if report.get("kind") == "free":
        rows = [
            _note(row, _at(listen, row["of"]), _at(drawn, number))
            for number, row in enumerate(report["notes"])
        ]
        return {"notes": rows, "heard": listen}
    rows = []
    for number, told in enumerate(listen):
        row, place = shown.get(number, (None, -1))
        if row is None:
            rows.append(_outside(told))
        else:
            rows.append(_note(row, told, _at(drawn, place)))
    return {"notes": rows}


def _at(rows: list[Any], number: int) -> Mapping[str, Any]:
    return rows[number] if 0 <= number < len(rows) else {}


def _note(row: Mapping[str, Any], told: Mapping[str, Any], drawn: Mapping[str, Any]) -> Json:
    place, slide = drawn.get("place_mm"), drawn.get("slide_mm")
    off = row["slide_mm"] if place is None or slide is None else slide - place
    heard = drawn.get("heard") or None
    return {
        "measure": row["measure"],
        "note": old.pitch(row["name"])["pitch"],
        "mark": row["mark"],
        "played": row["played"],
        "outside": False,
        "confidence": told.get("confidence"),
        "start_s": row["start_s"],
        "end_s": row["end_s"],
        "cents": drawn.get("cents", row["cents"]),
        "cents_se": drawn.get("cents_se", row["cents_se"]),
        "spread_cents": told.get("spread_cents"),
        "slide_mm": off,
        "slide_se_mm": told.get("slide_se_mm"),
        "place_mm": place,
        "heard": None if heard is None else old.pitch(heard)["pitch"],
        "told": old.facts_of(old.REMARKS, row["words"], "; "),
    }


def _outside(told: Mapping[str, Any]) -> Json:
    """A note of the part before or after the take: it was in the JSON of listen alone."""
    return {
        "measure": str(told["measure"]),
        "note": told["note"],
        "mark": told["mark"],
        "played": told["played"],
        "outside": True,
        "confidence": told["confidence"],
        "start_s": told["start_s"],
        "end_s": None,
        "cents": told["cents"],
        "cents_se": told["cents_se"],
        "spread_cents": told["spread_cents"],
        "slide_mm": told["slide_mm"],
        "slide_se_mm": told["slide_se_mm"],
        "place_mm": None,
        "heard": None,
        "told": old.facts_of(old.REMARKS, told["words"], "; "),
    }


# What else the JSON of listen and the sheet said.


def _of_listen(report: Mapping[str, Any], listen: Mapping[str, Any], new: Json) -> Json:
    made: Json = {}
    if "habits" in listen:
        made["habits"] = [
            {key: value for key, value in row.items() if key != "words"}
            | {"told": old.fact_of(old.HABITS, row["words"])}
            for row in listen["habits"]
        ]
    if "practice" in listen:
        tables = {"what": old.WHATS, "why": old.WHYS, "how": old.HOWS}
        made["practice"] = [
            {key: old.fact_of(table, row[key]) for key, table in tables.items()}
            for row in listen["practice"]
        ]
    if "warnings" in listen:
        texts = [text for text in listen["warnings"] if text != report.get("doubt")]
        made["warnings"] = [old.fact_of(old.WARNINGS, text) for text in texts]
    if "horn" in listen:
        made["horn_name"] = listen["horn"]
    known = {*_TOLD_ELSEWHERE, "horn"}
    return made | {key: value for key, value in listen.items() if key not in known | set(new)}


def _of_sheet(report: Mapping[str, Any], sheet: Mapping[str, Any]) -> Json:
    """The positions that it drew, and those of its sentences that nothing else tells."""
    page = sheet.get("report", {})
    made: Json = {"positions_mm": page["positions_mm"]} if "positions_mm" in page else {}
    left = [text for text in _sentences(sheet, page) if text not in _known(report)]
    return made | ({"as_told": [old.as_told(text) for text in left]} if left else {})


def _sentences(sheet: Mapping[str, Any], page: Mapping[str, Any]) -> Iterable[str]:
    legend = [words for _, words in sheet.get("legend", [])]
    practice = [": ".join(filter(None, row)) for row in page.get("practice", [])]
    closing = filter(None, [page.get("closing")])
    return chain(sheet.get("lines", []), legend, page.get("habits", []), practice, closing)


def _known(report: Mapping[str, Any]) -> set[str]:
    """The sentences of a sheet that stand elsewhere in the report, or on every sheet."""
    listen = report.get("listen", {})
    habits = [row["words"] for row in listen.get("habits", [])]
    practice = [f"{r['what']}: {r['why']}: {r['how']}." for r in listen.get("practice", [])]
    texts = [report.get(key) for key in ("doubt", "summary", "horn")]
    if report.get("summary") == report.get("doubt"):
        texts.append(_counts_on_sheet(report))
    return {_CLOSING, _FIND_OUT, _ABOUT_FREE, *_LEGEND, *habits, *practice, *filter(None, texts)}
