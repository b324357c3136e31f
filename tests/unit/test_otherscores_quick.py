"""What music21 is spared leaves what it writes as it was."""

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from music21 import converter, stream
from musicxml_build import OWN_SCORES

from handslide.edges.otherscores import quick
from handslide.edges.otherscores.convert import converted

ROOT = Path(__file__).parents[2]
# A pickup; meters that change at and amid a measure and in one part alone; voices; a rest over
# measures; tuplets and graces; a part that has no meter, and none before the second measure.
KERN = "\n".join(
    line.replace(" ", "\t")
    for line in """\
**kern **kern **dynam **kern
*clefF4 *clefG2 * *clefG2
*M3/4 *M3/4 * *
*k[b-] *k[] * *
4C 4g p 4cc
=1 =1 =1 =1
2.D 6g f 4r
. 6a . .
. 6b . .
. 4cc . 2dd
. 4dd . .
*M2/4 * * *M4/4
=2:| =2:| =2:| =2:|
2E 2.r . qee
. . . 2ee
*M4/4 *M4/4 * *
=3 =3 =3 =3
* *^ * *
1F 2g 2e . 2r
. 4a 4f pp .
. 4b 4d . 2cc
*M2/4 * * * *
*M4/4 * * * *
=4 =4 =4 =4 =4
1r 1cc 1e . 1r
* *v *v * *
=5 =5 =5 =5
1BB- [4g; . 1gg#
. 2g_ . .
. 4g] . .
== == == ==
*- *- *- *-""".splitlines()
).encode()


@pytest.fixture
def collected() -> Iterator[None]:
    yield
    gc.enable()
    gc.collect()


def lasting(measures: int) -> str:
    return "**kern\n*M4/4\n" + "".join(f"={n}\n4c\n4d\n4e\n4f\n" for n in range(measures)) + "*-\n"


def test_the_library_is_the_one_that_was_looked_at() -> None:
    # With another one, read anew what is replaced, and whether there is still a need.
    pinned = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    assert f"music21=={quick.LOOKED_AT}" in pinned


@pytest.mark.sample
@pytest.mark.parametrize("path", [None, *OWN_SCORES.glob("*.krn"), *OWN_SCORES.glob("*.mid")])
@pytest.mark.usefixtures("collected")
def test_the_same_is_written_as_without(path: Path | None, monkeypatch: pytest.MonkeyPatch) -> None:
    form = "midi" if path is not None and path.suffix == ".mid" else "humdrum"
    data = KERN if path is None else path.read_bytes()
    quicker = converted(form, form, data, "a")
    assert quicker.count(b"<note") > 20
    monkeypatch.setattr(quick, "LOOKED_AT", "another")
    assert converted(form, form, data, "a") == quicker


@pytest.mark.parametrize("path", [None, *OWN_SCORES.glob("*.krn")])
def test_meters_are_those_that_the_library_finds(path: Path | None) -> None:
    source = (KERN if path is None else path.read_bytes()).decode()
    parts = converter.parseData(source, format="humdrum").parts
    found = [pair for part in parts for pair in quick.measures_in_meter(part)]
    assert len(found) == sum(len(part.getElementsByClass(stream.Measure)) for part in parts)
    assert len({None if meter is None else meter.ratioString for _, meter in found}) > 1 or path
    for measure, meter in found:
        if meter is not None:
            assert meter.barDuration.quarterLength == measure.barDuration.quarterLength


def counted(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> list[int]:
    calls, own = [0], getattr(owner, name)

    def counting(*args: Any, **named: Any) -> Any:
        calls[0] += 1
        return own(*args, **named)

    monkeypatch.setattr(owner, name, counting)
    return calls


def test_a_spine_is_not_summed_up_at_each_barline(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = counted(monkeypatch, stream.Stream, "elementOffset")
    took = []
    for measures in (50, 100, 200):
        calls[0] = 0
        with quick.known_barlines():
            converter.parseData(lasting(measures), format="humdrum")
        took.append(calls[0])
    # With the square they grow.
    assert took[2] - took[1] == pytest.approx(2 * (took[1] - took[0]), rel=0.1)


def test_meters_are_not_searched_for_each_measure(monkeypatch: pytest.MonkeyPatch) -> None:
    score = converter.parseData(lasting(50), format="humdrum")
    calls = counted(monkeypatch, stream.Stream, "getTimeSignatures")
    with quick.known_meters(list(score.parts)):
        score.makeRests(fillGaps=True, inPlace=True, timeRangeFromBarDuration=True)
    for_ties = 1
    assert calls == [for_ties]
    score.makeRests(fillGaps=True, inPlace=True, timeRangeFromBarDuration=True)
    assert calls[0] > 40
