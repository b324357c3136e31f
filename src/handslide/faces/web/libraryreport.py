"""The page of a marked library: one file that needs nothing else, read in any browser."""

import base64
from collections.abc import Sequence
from importlib import resources
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from handslide.faces.web.pages import sayers, templates
from handslide.instrument.pace import pace
from handslide.jobs.library.choosing import HIGHEST, LOWEST
from handslide.jobs.library.library import LibraryRun
from handslide.jobs.library.report import PlayerReport
from handslide.words import library as words
from handslide.words.horns import model_name
from handslide.words.speech import Speech

REPORT = "report.html"
_FONTS = {"Hyperlegible": "Hyperlegible.woff2", "Libertinus Serif": "LibertinusSerif-Regular.woff2"}
# A trombone's slide ends near 7th position.
_LAST_POSITION = 7.0
_MOST_PASSED_OVER = 300


def library_html(say: Speech, run: LibraryRun, players: Sequence[PlayerReport]) -> str:
    """The page, in the language of ``say``."""
    passed = [(path, row) for path, row in run.chosen if not row.taken]
    return (
        templates()
        .get_template("library/report.html")
        .render(
            say=say,
            **sayers(say),
            words=words,
            run=run,
            players=[(report, _horn(say, report), list(_rows(say, report))) for report in players],
            passed=passed[:_MOST_PASSED_OVER],
            passed_more=max(0, len(passed) - _MOST_PASSED_OVER),
            style=_style(),
            script=Markup('<script type="module">{}</script>').format(
                Markup(_static("library.js"))
            ),
        )
    )


def _horn(say: Speech, report: PlayerReport) -> str:
    return str(report.about["horn_title"] or model_name(say, report.about["model"]))


def _rows(say: Speech, report: PlayerReport) -> Any:
    for row, grade in report.rows:
        low, high = (_share(midi, LOWEST, HIGHEST) for midi in (grade.low, grade.high))
        yield {
            "target": row.target,
            "grade": grade,
            "name": grade.title,
            "file": quote(row.target.path + _shown(row.result["endings"])),
            "range": words.span(say, grade.low, grade.high),
            "range_from": low,
            "range_to": high,
            "furthest": words.furthest(say, grade.position),
            "out": 0.0 if grade.position is None else _share(grade.position, 1.0, _LAST_POSITION),
            "quickest": words.quickest(say, grade.speed_m_s),
            "pace": pace(grade.speed_m_s),
            "valves": words.valves_used(say, grade.valves),
            "unplayable": words.unplayable(say, grade.unplayable, grade.notes),
            "effort": say.number(grade.effort, 1),
            "troubles": [
                (say.fact(one.told), ", ".join(one.measures), one.count) for one in grade.troubles
            ],
        }


def _shown(endings: Sequence[str]) -> str:
    """The ending of the file that is opened: the print, else the score."""
    return next((ending for ending in endings if ending == "-marked.pdf"), endings[0])


def _share(value: float, low: float, high: float) -> float:
    return round(100.0 * min(1.0, max(0.0, (value - low) / (high - low))), 1)


def _style() -> Markup:
    """The fonts, the colours and sizes as the studio's style sheet begins, and the page's own."""
    tokens = _static("style.css").partition("@font-face")[0]
    return Markup("<style>{}</style>").format(Markup(_fonts() + tokens + _static("library.css")))


def _static(name: str) -> str:
    file = resources.files("handslide.faces.web") / "static" / name
    return file.read_text(encoding="utf-8")


def _fonts() -> str:
    rules = []
    for name, file in _FONTS.items():
        data = (resources.files("handslide") / "data" / "fonts" / file).read_bytes()
        packed = base64.b64encode(data).decode()
        rules.append(
            f'@font-face {{ font-family: "{name}"; font-weight: 200 800; '
            f'src: url("data:font/woff2;base64,{packed}") format("woff2"); }}'
        )
    return "\n".join(rules)
