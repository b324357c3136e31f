"""All places of a note."""

from handslide.api.horns import Horn
from handslide.api.notes import Unit, read_note
from handslide.api.rows import Place, Places
from handslide.instrument import places as core
from handslide.instrument.marks import mark
from handslide.instrument.obstacles import why_unplayable


def places(note: str | float, horn: Horn, *, unit: Unit = "midi") -> Places:
    """All places of a note on a horn, within its player's reach and valves.

    x = (n·c·2^(δ/1200)/(2f) − L − ΣV)/2 for every partial n up to the 16th and every set of valves
    (docs/physics.md). The profile doesn't matter here, but does for a route.

    Parameters
    ----------
    note
        A name such as ``"C3"``, ``"Eb2"``, ``"F#4"`` (middle C is C4), or a number.
    horn
        From :func:`handslide.horn`.
    unit
        What a number is: ``"midi"`` (60 is C4, fractions allowed) or ``"hz"``.

    Returns
    -------
    Places
        Empty, and with a ``why``, where the horn or the player doesn't have the note.

    Raises
    ------
    HandslideError
        For what isn't a note: a wrong name, NaN, a number out of range.

    Examples
    --------
    >>> import handslide as hs
    >>> found = hs.places("C3", hs.horn("tenor-f"))
    >>> [place.mark for place in found]
    ['T1', '6', 'T7½']
    >>> found.extension_mm.round().tolist(), found.partial.tolist(), found.valves.tolist()
    ([2.0, 501.0, 666.0], [3, 3, 4], [[True], [False], [True]])
    >>> hs.tell(hs.places("C2", hs.horn("tenor")).why, "en")
    "C2 can't be played: the slide would have to go to 11.0, 51 cm further than it does"
    """
    setup = horn._setup
    midi, pitch = read_note(note, unit, horn.a4_hz)
    # What the horn has: the player's limits hold, those of the profile don't.
    limits = core.Limits(setup.book.limits.reach, setup.book.limits.learned)
    found = core.find_places(setup.horn, midi, limits)
    why = None if found else why_unplayable(core.PlaceBook(setup.horn, limits), pitch)
    return Places(midi, why, tuple(place_of(horn, one) for one in found), horn.valves)


def place_of(horn: Horn, place: core.Place) -> Place:
    """A place of the core as it is given out."""
    return Place(
        place.valves,
        place.partial,
        1000.0 * place.extension_m,
        place.position,
        place.lip_cents,
        mark(horn._setup.horn, place, horn._setup.style),
    )
