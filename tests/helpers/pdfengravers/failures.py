"""What was read wrong, kind by kind, with its place on the page: for those who mend the reader."""

from collections import Counter, defaultdict
from collections.abc import Iterable

from pdfengravers.compare import Head, Pair, is_late, is_wrong
from pdfengravers.truth import TrueNote

_EACH = 6  # places shown of a kind and part


class Failures:
    """Collects the failures of many parts."""

    def __init__(self) -> None:
        self._places: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
        self._false_doubts: Counter[str] = Counter()
        self.notes: list[str] = []

    def add(self, part: str, pairs: Iterable[Pair]) -> None:
        """The pairs of one part, of whatever engraver."""
        before: Head | None = None
        for true, read in pairs:
            for kind, text in _kinds(true, read):
                self._places[kind][part].append(f"{_place(read or before)} {text}")
            if read is not None:
                before = read
                if read.doubted and _is_right(true, read):
                    self._false_doubts.update(set(read.why))

    def markdown(self) -> str:
        """All of it, the most frequent kind first."""
        lines = [f"- {note}" for note in self.notes]
        if self._false_doubts:
            lines += ["", "## right in pitch and onset, but doubted because of"]
            lines += [f"- {count}: {key}" for key, count in self._false_doubts.most_common()]
        by_size = sorted(
            self._places.items(), key=lambda one: -sum(len(found) for found in one[1].values())
        )
        for kind, parts in by_size:
            lines += ["", f"## {kind}: {sum(len(found) for found in parts.values())}"]
            for part, found in sorted(parts.items(), key=lambda one: -len(one[1])):
                lines.append(f"- {part} ({len(found)}): " + "; ".join(found[:_EACH]))
        return "\n".join(lines) + "\n"


def _is_right(true: TrueNote | None, read: Head) -> bool:
    return true is not None and not is_wrong(true, read) and not is_late(true, read)


def _place(read: Head | None) -> str:
    return "at the start" if read is None else f"p{read.page} s{read.system} x{read.x:.0f}"


def _kinds(true: TrueNote | None, read: Head | None) -> Iterable[tuple[str, str]]:
    if read is None:
        if true is not None and not true.shared:
            yield "missing", f"bar {true.bar + 1} +{true.onset} midi {true.midi}"
        return
    if true is None:
        doubt = "doubted" if read.doubted else "NOT doubted"
        yield f"extra, {doubt}", f"midi {read.midi}"
        return
    where = f"bar {true.bar + 1} +{true.onset}"
    if is_wrong(true, read):
        doubt = "doubted" if read.doubted else "NOT doubted"
        yield f"wrong pitch, {doubt}", f"{where} {true.midi}, read {read.midi}"
    if is_late(true, read):
        doubt = "doubted" if read.doubted else "not doubted"
        yield f"wrong onset, {doubt}", f"{where}, read {read.onset}"
    if read.bar is not None and read.bar != true.bar:
        yield "wrong bar", f"{where}, read {read.bar + 1}"
    if true.grace != read.grace:
        yield "grace", f"{where} is {true.grace}"
    if true.tie_to != read.tie_to:
        yield "tie" + (" missed" if true.tie_to else " too many"), where
    if true.actual * read.normal != true.normal * read.actual:
        yield "tuplet", f"{where} {true.actual}:{true.normal}, read {read.actual}:{read.normal}"
    slurs = (read.slur_start - true.slur_start, read.slur_stop - true.slur_stop)
    if any(slurs):
        yield "slur", f"{where} starts {slurs[0]:+}, stops {slurs[1]:+}"
