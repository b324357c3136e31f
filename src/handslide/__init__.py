"""handslide: where every note lies on a slide-brass horn, and which way to go there.

As a library::

    import handslide as hs

    horn = hs.horn("tenor-f")
    route = hs.route("Eb3 D3 Db3 C3", horn)
    route.marks, route.worse_by, route.reasons

The names of ``__all__`` are stable: docs/api.md says what that means and shows all of them.
"""

# The name alone tells a type checker; importing it from typing takes as long as all else here.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from handslide.api.fitting import Fitted, fit
    from handslide.api.hearing import Take, hear
    from handslide.api.horns import Horn, horn, horns
    from handslide.api.marking import Marked, mark
    from handslide.api.places import places
    from handslide.api.routes import Route, route
    from handslide.api.rows import Place, Places
    from handslide.api.telling import Reason, tell
    from handslide.api.tuning import Tuning, tune
    from handslide.ground.errors import HandslideError
    from handslide.ground.facts import Fact
    from handslide.instrument.obstacles import Obstacle

__version__ = "0.1.0"

__all__ = [
    "Fact", "Fitted", "HandslideError", "Horn", "Marked", "Obstacle", "Place", "Places", "Reason",
    "Route", "Take", "Tuning", "fit", "hear", "horn", "horns", "mark", "places", "route", "tell",
    "tune",
]  # fmt: skip

# Where each name lives. It is loaded when it is first asked for, so that importing costs nothing.
_HOMES = {
    "Fact": "ground.facts", "Obstacle": "instrument.obstacles",
    "HandslideError": "api.telling", "Reason": "api.telling", "tell": "api.telling",
    "Horn": "api.horns", "horn": "api.horns", "horns": "api.horns",
    "Place": "api.rows", "Places": "api.rows", "places": "api.places",
    "Route": "api.routes", "route": "api.routes", "Marked": "api.marking", "mark": "api.marking",
    "Take": "api.hearing", "hear": "api.hearing", "Fitted": "api.fitting", "fit": "api.fitting",
    "Tuning": "api.tuning", "tune": "api.tuning",
}  # fmt: skip


if not TYPE_CHECKING:  # so that checkers see a wrong name

    def __getattr__(name: str) -> object:
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}", name=name)
        from importlib import import_module

        value = getattr(import_module(f"handslide.{_HOMES[name]}"), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
