"""What a teacher has chosen for the whole studio: language, look, paper."""

from dataclasses import dataclass

from handslide.ground.errors import BadData
from handslide.ground.papers import DEFAULT_PAPER, PAPERS
from handslide.studio.studio import Studio, get_setting, set_setting
from handslide.words.catalogues import MADE_UP, SOURCE, known, languages

THEMES = ("auto", "light", "dark")


@dataclass(frozen=True, slots=True)
class Preferences:
    """The choices; ``language`` empty: the browser's; ``theme`` auto: as the system has it."""

    language: str = ""
    theme: str = "auto"
    paper: str = DEFAULT_PAPER


def preferences(studio: Studio) -> Preferences:
    """The studio's choices; what isn't known (any more) is as if it weren't chosen."""
    usual = Preferences()
    found = {
        key: get_setting(studio, key, getattr(usual, key)) for key in ("language", "theme", "paper")
    }
    return Preferences(
        found["language"] if known(found["language"]) else usual.language,
        found["theme"] if found["theme"] in THEMES else usual.theme,
        found["paper"] if found["paper"] in PAPERS else usual.paper,
    )


def prefer(studio: Studio, chosen: Preferences) -> None:
    """Keep the choices. Raises BadData for one that doesn't exist."""
    for kind, value, possible in (
        ("studio.no_language", chosen.language, ("", SOURCE, MADE_UP, *languages())),
        ("studio.no_theme", chosen.theme, THEMES),
        ("studio.no_paper", chosen.paper, PAPERS),
    ):
        if value not in possible:
            raise BadData(kind, value=value)
    with studio.store.write():
        set_setting(studio, "language", chosen.language)
        set_setting(studio, "theme", chosen.theme)
        set_setting(studio, "paper", chosen.paper)
