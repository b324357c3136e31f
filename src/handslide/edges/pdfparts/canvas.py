"""What a page has drawn so far, and the state in which it draws (ISO 32000-1, 8.4)."""

from dataclasses import dataclass
from typing import Any

from handslide.edges.pdfparts.drawn import Glyph, Matrix, Path, Picture
from handslide.edges.pdfparts.fonts import Font
from handslide.edges.pdfparts.geometry import Box
from handslide.ground import limits
from handslide.ground.errors import ScoreError


@dataclass(slots=True)
class Counts:
    """What all pages of a file have taken together."""

    operators: int = 0


class State:
    """The graphics state, as far as it matters here."""

    __slots__ = (
        "clip", "ctm", "dashed", "fill_clear", "fill_space", "fill_white", "font", "leading",
        "render", "rise", "size", "spacing", "stretch", "stroke_clear", "stroke_space",
        "stroke_white", "width", "word_spacing",
    )  # fmt: skip

    def __init__(self, ctm: Matrix, clip: Box) -> None:
        self.ctm, self.clip = ctm, clip
        self.width, self.dashed = 1.0, False
        self.fill_white = self.stroke_white = False
        self.fill_clear = self.stroke_clear = False
        self.fill_space = self.stroke_space = "additive"
        self.font: Font | None = None
        self.size, self.spacing, self.word_spacing, self.stretch = 1.0, 0.0, 0.0, 1.0
        self.leading, self.rise, self.render = 0.0, 0.0, 0

    def copy(self) -> "State":
        """The same, to be changed."""
        new = object.__new__(State)
        for name in State.__slots__:
            setattr(new, name, getattr(self, name))
        return new


class Canvas:
    """What a page has drawn: ``glyphs``, ``paths`` and ``pictures`` in seen points, in their order.

    It counts, and raises ScoreError where there is too much.
    """

    def __init__(self, counts: Counts) -> None:
        self.glyphs: list[Glyph] = []
        self.paths: list[Path] = []
        self.pictures: list[Picture] = []
        self._counts = counts
        self._points = self._count = self._shown = self._forms = 0
        self._running: set[Any] = set()

    def counted(self) -> None:
        """One more operator. Raises ScoreError where there are too many."""
        self._count += 1
        self._counts.operators += 1
        most = limits.PDF_PAGE_OPERATORS, limits.PDF_OPERATORS
        if self._count > most[0] or self._counts.operators > most[1]:
            raise ScoreError("pdfparts.crowded")

    def add_path(self, path: Path) -> None:
        """A path that is seen."""
        self._points += sum(map(len, path.polygons))
        if self._points > limits.PDF_PAGE_POINTS:
            raise ScoreError("pdfparts.crowded")
        self.paths.append(path)

    def shown(self, count: int) -> None:
        """So many glyphs more, seen or not."""
        self._shown += count
        if self._shown > limits.PDF_PAGE_GLYPHS:
            raise ScoreError("pdfparts.crowded")

    def enter(self, form: Any) -> bool:
        """Begin a form; False where it is being drawn already."""
        self._forms += 1
        if self._forms > limits.PDF_PAGE_FORMS:
            raise ScoreError("pdfparts.crowded")
        if form.objgen in self._running:
            return False
        self._running.add(form.objgen)
        return True

    def leave(self, form: Any) -> None:
        """End a form."""
        self._running.discard(form.objgen)

    def add_picture(self, box: Box) -> None:
        """A picture that is seen; beyond a number they are all alike."""
        if len(self.pictures) < limits.PDF_PAGE_PICTURES:
            self.pictures.append(Picture(*box))
