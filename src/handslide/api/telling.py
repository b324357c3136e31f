"""Facts, reasons and errors as text, in the language of whoever reads them."""

from dataclasses import dataclass, field

from handslide.api.rows import Place
from handslide.ground.errors import BadUsage, HandslideError
from handslide.ground.facts import Fact
from handslide.instrument import rivalry
from handslide.words.catalogues import chosen_language, known, languages
from handslide.words.reasons import against_words, reason_words
from handslide.words.speech import Speech, speech

__all__ = ["HandslideError", "Reason", "tell"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a note of a route lies in ``place`` and not in ``rival``.

    ``note`` is its index in the route. ``kind`` never depends on the language: such as
    ``moving_out``, ``valve_stays``, ``locked``. ``worse_by`` are the points that the best whole
    route through the rival costs more; None where there is no rival. Where a move decided,
    ``neighbour`` names the note before or after; ``way_mm`` and ``rival_way_mm`` are how far the
    slide goes there on the route and on the rival's (out positive), 0 otherwise.
    ``rival_speed_m_s`` is the peak speed of the rival's move where that is a quick one.
    """

    note: int
    kind: str
    place: Place
    rival: Place | None
    worse_by: float | None
    neighbour: str | None
    way_mm: float
    rival_way_mm: float
    rival_speed_m_s: float | None
    _found: rivalry.Reason = field(repr=False)
    _against: bool = field(repr=False)

    @property
    def text(self) -> str:
        """The reason as a teacher would say it, in the user's language."""
        return tell(self)


def tell(told: Fact | HandslideError | Reason, language: str | None = None) -> str:
    """A fact, an error or a reason as text.

    Parameters
    ----------
    told
        What a function of handslide raised or gave.
    language
        ``en``, ``de``, ``es`` or ``fr``. None: that of ``HANDSLIDE_LANGUAGE``, else the system's,
        else English.

    Raises
    ------
    HandslideError
        For a language that there isn't (``usage.language``).

    Examples
    --------
    >>> import handslide as hs
    >>> try:
    ...     hs.places("H3", hs.horn("tenor"))
    ... except hs.HandslideError as error:
    ...     print(error.fact.kind)
    ...     print(hs.tell(error, "en"))
    pitch.german
    'H3' is not a note: H is the German name: write B for it, and Bb for the German B
    """
    say = speech_for(language)
    if isinstance(told, Reason):
        return against_words(say, told._found) if told._against else reason_words(say, told._found)
    return say.fact(told)


def speech_for(language: str | None) -> Speech:
    """The speech of a language, None: of the user's."""
    if language is not None and not known(language):
        raise BadUsage("usage.language", wish=language, known=tuple(languages()))
    return speech(chosen_language(language))


# Whoever imports handslide reads errors in tracebacks, where no face makes a sentence of them.
HandslideError.teller = staticmethod(tell)
