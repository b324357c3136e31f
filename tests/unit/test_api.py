"""The library: what it promises, that its examples are true, and what it says of bad input."""

import ast
import doctest
import inspect
import math
import pickle
import subprocess
import sys
from dataclasses import fields, is_dataclass
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

import handslide as hs
from handslide.words.speech import speech

ROOT = Path(__file__).resolve().parents[2]
MODULES = (
    "telling", "horns", "rows", "places", "routes", "marking", "hearing", "fitting", "tuning",
)  # fmt: skip
# Every name with its parameters or attributes. A change here is a change of what was promised:
# docs/api.md says which ones are allowed.
PROMISED = {
    "Fact": "kind items values",
    "Fitted": "horn closed_hz places half_width_mm scatter_cents left_out noticed "
    "toml(language=None)",
    "HandslideError": "fact",
    "Horn": "name a4_hz temp_c length_mm travel_mm valves reach learned profile marks "
    "extension_mm(position) frequency_hz(partial, extension_mm, valves='') position(extension_mm)",
    "Marked": "title part score pdf route measures warnings",
    "Obstacle": "note kind why",
    "Place": "valves partial extension_mm position lip_cents mark",
    "Places": "midi why count(value) extension_mm index(value, start=0, stop=None) "
    "lip_cents partial "
    "position valves",
    "Reason": "note kind place rival worse_by neighbour way_mm rival_way_mm rival_speed_m_s text",
    "Route": "horn names midi onset_s length_s chosen effort least_effort exact obstacles choices "
    "effort_of(chosen) extension_mm lip_cents marks partial places position reasons "
    "through(note, choice) valves why(note, place=None) worse_by",
    "Take": "a4_hz a4_estimated length_s names midi start_s end_s steady_start_s "
    "steady_end_s f0_hz "
    "cents cents_se spread_cents vibrato_hz vibrato_cents level_db places off_mm "
    "off_se_mm left_out "
    "warnings",
    "Tuning": "slide difference_cents se_cents pull_mm pull_se_mm direction matters facts text",
    "fit": "(frequency_hz, horn, *, extension_mm=0.0, valves='', partial=0, se_cents=2.0, "
    "name='fitted')",
    "hear": "(audio, rate_hz=None, *, a4_hz=440.0, horn=None)",
    "horn": "(name='tenor', *, a4_hz=440.0, temp_c=None, reach=None, learned=None, profile=None, "
    "marks='')",
    "horns": "()",
    "mark": "(file, horn, *, folder=None, part=None, voice=None, tempo_qpm=80.0, show='all', "
    "existing='keep', pdf=True, force=False, language=None)",
    "places": "(note, horn, *, unit='midi')",
    "route": "(notes, horn, *, unit='midi', length_s=None, onset_s=None, slur=None, gliss=None, "
    "tempo_qpm=80.0, locks=None, settled=True)",
    "tell": "(told, language=None)",
    "tune": "(frequency_hz, horn, *, note=None, open_hz=None, valves='', se_cents=2.0, "
    "play_temp_c=None)",
}


def parameters(function):
    """The signature without its types and without self."""
    signature = inspect.signature(function)
    bare = [one.replace(annotation=one.empty) for one in signature.parameters.values()]
    bare = [one for one in bare if one.name != "self"]
    return str(signature.replace(parameters=bare, return_annotation=signature.empty))


def shown(thing):
    if not isinstance(thing, type):
        return parameters(thing)
    if issubclass(thing, Exception):
        return "fact"
    assert is_dataclass(thing) and thing.__dataclass_params__.frozen
    names = [field.name for field in fields(thing) if not field.name.startswith("_")]
    for name in sorted(dir(thing)):
        if name.startswith("_") or name in names:
            continue
        value = inspect.getattr_static(thing, name)
        names.append(name + (parameters(value) if inspect.isfunction(value) else ""))
    return " ".join(names)


@pytest.mark.parametrize("name", sorted(PROMISED))
def test_what_is_promised_is_there(name):
    assert shown(getattr(hs, name)) == PROMISED[name]


def test_nothing_else_is_promised():
    assert sorted(hs.__all__) == sorted(PROMISED)
    assert set(PROMISED) <= set(dir(hs))
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    table = page.partition("| name | what it is |")[2]
    assert [name for name in PROMISED if f"`{name}`" not in table] == []
    with pytest.raises(AttributeError, match="nonsense"):
        hs.nonsense  # noqa: B018


def test_checkers_of_types_see_the_same_names():
    tree = ast.parse((ROOT / "src" / "handslide" / "__init__.py").read_text(encoding="utf-8"))
    seen = {
        alias.name: node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("handslide.")
        for alias in node.names
    }
    assert set(seen) == set(hs.__all__)
    for name, module in seen.items():
        assert getattr(import_module(module), name) is getattr(hs, name)


@pytest.mark.parametrize("name", sorted(PROMISED))
def test_every_name_is_described(name):
    thing = getattr(hs, name)
    assert inspect.getdoc(thing)
    if inspect.isfunction(thing) and name not in ("horns",):
        assert "Raises\n------" in inspect.getdoc(thing)
        assert ">>> " in inspect.getdoc(thing)


OPTIONS = doctest.NORMALIZE_WHITESPACE


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_docstrings(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    result = doctest.testmod(import_module(f"handslide.api.{name}"), optionflags=OPTIONS)
    assert result.failed == 0
    assert result.attempted or name == "rows"


def test_examples_of_the_page():
    with np.printoptions():
        result = doctest.testfile(
            str(ROOT / "docs" / "api.md"), module_relative=False, encoding="utf-8",
            optionflags=OPTIONS,
        )  # fmt: skip
    assert result.failed == 0
    assert result.attempted > 40


@pytest.fixture(scope="module")
def horn():
    return hs.horn("tenor-f")


def test_notes_are_the_same_as_names_numbers_and_frequencies(horn):
    names = ["Bb2", "C3", "D3", "Eb3"]
    routes = [
        hs.route(names, horn),
        hs.route(np.array(names), horn),
        hs.route("Bb2 C3 D3 Eb3", horn),
        hs.route([46, 48, 50, 51], horn),
        # Equal temperament from A4 = 440 Hz, ISO 16: B♭2 is 116.54 Hz.
        hs.route(np.array([116.54, 130.81, 146.83, 155.56]), horn, unit="hz"),
        hs.route([46, 48, 50, 51], horn, length_s=0.75, onset_s=0.75 * np.arange(4)),
    ]
    for route in routes:
        assert route.names == tuple(names)
        assert route.places == routes[0].places
        assert route.effort == routes[0].effort
        assert np.array_equal(route.worse_by, routes[0].worse_by)


def test_a_note_between_two_semitones_has_places_of_its_own(horn):
    low, between, high = (hs.places(midi, horn).extension_mm for midi in (50, 50.5, 51))
    assert high[0] < between[0] < low[0]
    assert hs.places(146.83, horn, unit="hz").extension_mm == pytest.approx(low, abs=0.2)


def test_a_horn_says_the_frequency_of_its_places(horn):
    for name, hz in (("D3", 146.832), ("F4", 349.228)):  # ISO 16
        found = hs.places(name, horn)
        for place in found:
            heard = horn.frequency_hz(place.partial, place.extension_mm, "+".join(place.valves))
            assert heard * 2 ** (place.lip_cents / 1200) == pytest.approx(hz, rel=1e-5)
        assert horn.position(found.extension_mm) == pytest.approx(found.position)
        assert horn.extension_mm(found.position) == pytest.approx(found.extension_mm, abs=1e-9)


def test_limits_of_the_player_hold():
    assert [p.mark for p in hs.places("C3", hs.horn("tenor-f", learned=[]))] == ["6"]
    assert not hs.places("E2", hs.horn("tenor", reach=5))
    assert "beyond the reach of 5" in hs.tell(hs.places("E2", hs.horn("tenor", reach=5)).why, "en")
    beginner = hs.route(["C3"], hs.horn("tenor-f", profile="beginner"))
    assert beginner.horn.profile == "beginner"


def test_a_gap_leaves_the_rest_as_it_is(horn):
    route = hs.route(["Bb2", "B0", "D3", "B0"], horn)
    assert [place is None for place in route.places] == [False, True, False, True]
    assert route.chosen.tolist()[1::2] == [-1, -1]
    assert np.isnan(route.extension_mm[1]) and np.isnan(route.position[1])
    assert (route.partial[1], route.marks[1], route.valves[1].any()) == (0, "", False)
    assert np.isinf(route.worse_by[1]).all()
    assert [(one.note, one.kind) for one in route.obstacles] == [
        (1, "unplayable"),
        (3, "unplayable"),
    ]
    assert len(route.choices[1]) == 0 and route.choices[1].why == route.obstacles[0].why
    assert route.reasons[1] is None
    assert route.effort_of(route.chosen) == pytest.approx(route.effort)
    nothing = hs.route(["B0"], horn)
    assert (nothing.places, nothing.effort, nothing.worse_by.shape) == ((None,), 0.0, (1, 0))


def test_every_min_marginal_is_the_effort_of_a_route(horn):
    line = "F3 Eb3 (D3 C3) D3:0.5 Eb3:0.5 D3 ~ Eb3 r:2 C3 F2"
    for settled in (True, False):
        route = hs.route(line, horn, tempo_qpm=152, settled=settled)
        assert route.effort_of(route.chosen) == pytest.approx(route.effort, rel=1e-12)
        for note, row in enumerate(route.choices):
            assert route.worse_by[note, route.chosen[note]] == 0.0
            for k in np.flatnonzero(np.isfinite(route.worse_by[note])).tolist():
                through = route.through(note, k)
                assert through[note] == k < len(row)
                more = route.effort_of(through) - route.effort
                assert route.worse_by[note, k] == pytest.approx(more, abs=1e-9)


def test_reasons_are_facts_and_text(horn):
    route = hs.route("F3 Eb3 D3 C3 D3 Eb3 D3 C3", horn, tempo_qpm=152)
    reason = route.reasons[3]
    assert (reason.kind, reason.place.mark, reason.rival.mark) == ("moving_out", "6", "T1")
    assert reason.worse_by == route.worse_by[3, 0]
    assert reason.text == hs.tell(reason, "en")
    assert hs.tell(reason, "fr") != hs.tell(reason, "en")
    assert reason.way_mm > 0 > reason.rival_way_mm
    against = route.why(3, route.choices[3][0])
    assert reason.text == f"6th, because {against.text}"
    assert route.why(0) is None


def test_a_lock_is_kept(horn):
    valve = hs.places("C3", horn)[0]
    route = hs.route("F3 Eb3 D3 C3", horn, tempo_qpm=152, locks={3: valve})
    assert route.places[3] == valve
    assert route.reasons[3].kind == "locked"
    assert np.isinf(np.delete(route.worse_by[3], 0)).all()


def test_arrays_can_not_be_written_to(horn):
    route = hs.route(["Bb2", "C3"], horn)
    for array in (route.midi, route.worse_by, route.extension_mm, hs.places("C3", horn).partial):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


def test_all_can_be_sent_to_another_process(horn):
    route = pickle.loads(pickle.dumps(hs.route(["Bb2", "C3"], horn)))
    assert route.horn == horn and route.worse_by.shape[0] == 2


BAD = {
    "no notes": (lambda h: hs.route([], h), "api.no_notes"),
    "an empty array": (lambda h: hs.route(np.zeros(0), h), "api.no_notes"),
    "an empty line": (lambda h: hs.route("", h), "line.empty"),
    "nothing": (lambda h: hs.route(None, h), "api.not_notes"),
    "one number": (lambda h: hs.route(60, h), "api.not_notes"),
    "names and numbers": (lambda h: hs.route(["C3", 60], h), "api.not_notes"),
    "a wrong name": (lambda h: hs.route(["C3", "X3"], h), "api.at"),
    "a wrong note": (lambda h: hs.places("C", h), "pitch.no_octave"),
    "NaN among notes": (lambda h: hs.route([60, math.nan], h), "api.not_finite"),
    "infinite note": (lambda h: hs.places(math.inf, h), "api.not_finite"),
    "Hz as MIDI": (lambda h: hs.route([440.0], h), "api.not_midi"),
    "below 0 Hz": (lambda h: hs.route([-1.0], h, unit="hz"), "api.hz"),
    "MIDI as Hz": (lambda h: hs.route([1.0], h, unit="hz"), "api.far_hz"),
    "a unit": (lambda h: hs.route([60], h, unit="Hz"), "usage.choice"),
    "a table of notes": (lambda h: hs.route([[60, 61]], h), "api.shape"),
    "more notes for one": (lambda h: hs.places([60], h), "api.shape"),
    "lengths too few": (lambda h: hs.route(["C3", "D3"], h, length_s=[1]), "api.shape"),
    "lengths of words": (lambda h: hs.route(["C3"], h, length_s="long"), "api.not_numbers"),
    "length NaN": (lambda h: hs.route(["C3"], h, length_s=math.nan), "api.not_finite"),
    "length below 0": (lambda h: hs.route(["C3"], h, length_s=-1.0), "line.length"),
    "backwards": (lambda h: hs.route(["C3", "D3"], h, onset_s=[1.0, 0.0]), "line.order"),
    "times of a typed line": (lambda h: hs.route("C3", h, slur=True), "api.typed_times"),
    "tempo": (lambda h: hs.route(["C3"], h, tempo_qpm=0.0), "line.tempo"),
    "lock of no note": (lambda h: hs.route(["C3"], h, locks={1: None}), "api.no_note"),
    "lock of another note": (
        lambda h: hs.route(["C3"], h, locks={0: hs.places("Bb2", h)[0]}), "api.no_such_place",
    ),
    "place of another note": (
        lambda h: hs.route(["C3"], h).why(0, hs.places("F2", h)[0]), "api.no_such_place",
    ),
    "no such note": (lambda h: hs.route(["C3"], h).why(1), "api.no_note"),
    "no such choice": (lambda h: hs.route(["C3"], h).effort_of([7]), "api.choice"),
    "no way through": (lambda h: hs.route(["C3"], h).through(0, 7), "api.choice"),
    "unknown horn": (lambda h: hs.horn("tuba"), "horn.unknown"),
    "missing horn file": (lambda h: hs.horn(Path("none.toml")), "horn.missing"),
    "A4": (lambda h: hs.horn(a4_hz=math.nan), "horn.a4"),
    "reach": (lambda h: hs.horn(reach=math.nan), "horn.reach"),
    "a valve": (lambda h: hs.horn("tenor-f", learned=["D"]), "horn.no_valve"),
    "air": (lambda h: hs.horn(temp_c=math.nan), "air.temperature"),
    "profile": (lambda h: hs.horn(profile="loud"), "profile.unknown"),
    "partial 0": (lambda h: h.frequency_hz(0, 0.0), "api.partial"),
    "beyond the slide": (lambda h: h.frequency_hz(1, 5000.0), "api.extension"),
    "valve of no horn": (lambda h: h.frequency_hz(1, 0.0, "Q"), "horn.no_valve"),
    "position NaN": (lambda h: h.position([0.0, math.nan]), "api.not_finite"),
    "missing part": (lambda h: hs.mark("none.musicxml", h), "scores.missing"),
    "show": (lambda h: hs.mark("none.musicxml", h, show="some"), "usage.choice"),
    "missing take": (lambda h: hs.hear("none.wav"), "audio.unreadable"),
    "no rate": (lambda h: hs.hear(np.zeros(9)), "api.rate"),
    "stereo": (lambda h: hs.hear(np.zeros((9, 2)), 44100), "sounds.not_mono"),
    "NaN in sound": (lambda h: hs.hear(np.array([math.nan]), 44100), "api.not_finite"),
    "fit nothing": (lambda h: hs.fit([], h), "fitting.no_rows"),
    "fit NaN": (lambda h: hs.fit([math.nan], h), "api.not_finite"),
    "valves too few": (lambda h: hs.fit([58.0, 60.0], h, valves=["F"]), "api.shape"),
    "tune to nothing": (lambda h: hs.tune(230.0, h), "api.either"),
    "tune NaN": (lambda h: hs.tune(math.nan, h, note="Bb3"), "api.not_finite"),
    "tune another note": (lambda h: hs.tune(100.0, h, note="Bb3"), "tuning.other_note"),
    "tune two as one": (lambda h: hs.tune([116.0, 233.0], h, note="Bb3"), "api.shape"),
    "tune without valves": (lambda h: hs.tune(174.0, h, open_hz=174.0), "api.valves_wanted"),
    "a loop in later air": (
        lambda h: hs.tune(174.0, h, note="F3", valves="F", play_temp_c=20.0), "api.main_only",
    ),
    "language": (lambda h: hs.tell(hs.places("B0", h).why, "xx"), "usage.language"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_clear_error(name, horn):
    call, kind = BAD[name]
    with pytest.raises(hs.HandslideError) as raised:
        call(horn)
    error = raised.value
    assert error.fact.kind == kind
    for code in ("en", "de", "es", "fr"):
        told = hs.tell(error, code)
        assert told == speech(code).fact(error) and "\n" not in told


def test_a_traceback_shows_the_sentence_in_the_users_language():
    code = "import handslide as hs; hs.route([], hs.horn())"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, encoding="utf-8",
        env={"HANDSLIDE_LANGUAGE": "de", "PYTHONPATH": str(ROOT / "src"), "PYTHONUTF8": "1"},
        timeout=60,
    )  # fmt: skip
    last = done.stderr.splitlines()[-1]
    assert last.endswith("BadData: es gibt keine Töne: geben Sie mindestens einen an")


REPEATED = """<score-partwise version="4.0"><part-list><score-part id="P1">
<part-name>Trombone</part-name></score-part></part-list><part id="P1"><measure number="1">
<attributes><divisions>2</divisions><clef><sign>F</sign><line>4</line></clef></attributes>{0}
<barline location="right">
<repeat direction="backward"/></barline></measure></part></score-partwise>"""
NOTE = "<note><pitch><step>{0}</step><octave>{1}</octave></pitch><duration>{2}</duration></note>"


def test_a_part_with_a_repeat(horn, tmp_path):
    notes = (("F", 3), ("D", 3), ("C", 3), ("B", 0))
    music = "".join(NOTE.format(*note, 1) for note in notes)
    path = tmp_path / "short.musicxml"
    path.write_text(REPEATED.format(music), encoding="utf-8")
    marked = hs.mark(path, horn, pdf=False)
    route = marked.route
    assert (marked.part, marked.measures, marked.pdf) == ("Trombone", ("1",) * 4, None)
    assert marked.score.is_file() and route.names == ("F3", "D3", "C3", "B0")
    assert route.marks[3] == "" and [fact.kind for fact in marked.warnings] == ["places.unplayable"]
    assert route.effort_of(route.chosen) == pytest.approx(route.effort)
    # Both times count: that of a part of twice as many notes, each pair in one place.
    other = route.chosen.copy()
    other[2] = 1 - other[2]
    assert route.worse_by[2, other[2]] <= route.effort_of(other) - route.effort + 1e-9
    with pytest.raises(hs.HandslideError, match="several times"):
        route.through(2, 0)
    with pytest.raises(hs.HandslideError, match="exist"):
        hs.mark(path, horn, pdf=False)
    assert hs.mark(path, horn, pdf=False, force=True).score == marked.score


def test_a_fitted_horn_can_be_kept_and_read_again(tmp_path):
    like = hs.horn("tenor-f", reach=6)
    partial = np.array([2, 3, 4, 5, 6, 2, 3, 4])
    valves = [""] * 5 + ["F"] * 3
    hz = [float(like.frequency_hz(n, 0.0, v)) * 2 ** (-10 / 1200) for n, v in zip(partial, valves)]
    # A typing error in one row is found and left out.
    fitted = hs.fit([*hz, 1.5 * hz[0] * 1.05], like, valves=[*valves, ""])
    assert fitted.horn.reach == 6
    assert list(fitted.left_out) == [8]
    assert 1200 * np.log2(fitted.closed_hz / like.frequency_hz(1, 0.0)) == pytest.approx(-10, abs=1)
    assert len(fitted.places) == len(fitted.half_width_mm) and (fitted.half_width_mm > 0).all()
    path = tmp_path / "mine.toml"
    path.write_text(fitted.toml("en"), encoding="utf-8")
    assert hs.horn(path).length_mm == pytest.approx(fitted.horn.length_mm, abs=0.01)


def test_a_loop_is_tuned_against_the_open_horn(horn):
    sharp = hs.tune(174.6 * 2 ** (20 / 1200), horn, open_hz=174.6, valves="F")
    assert (sharp.slide, sharp.direction, sharp.matters) == ("F", "out", True)
    assert sharp.difference_cents == pytest.approx(20.0)
    # L = n·c/(2f) on the 4th partial, ΔL = L·(2^(20/1200) - 1), on two legs; c from the open tube.
    speed = 2 * horn.length_mm * float(horn.frequency_hz(1, 0.0))
    tube = 4 * speed / (2 * 174.6 * 2 ** (20 / 1200))
    assert sharp.pull_mm == pytest.approx(tube * (2 ** (20 / 1200) - 1) / 2, rel=1e-9)
    assert sharp.text.count("\n") == len(sharp.facts) - 1


def test_whole_numbers_are_heard_as_floats_are(horn):
    time_s = np.arange(0.0, 1.0, 1 / 16000)
    tone = sum(np.sin(2 * np.pi * 174.0 * n * time_s) / n for n in range(1, 6)) / 4
    first = hs.hear(tone, 16000, horn=horn)
    whole = hs.hear((32768 * tone).astype(np.int16), 16000, horn=horn)
    assert first.names == whole.names == ("F3",)
    assert first.f0_hz == pytest.approx([174.0], abs=0.02)
    assert whole.f0_hz == pytest.approx(first.f0_hz, abs=1e-3)
    assert whole.off_mm == pytest.approx(first.off_mm, abs=0.1)
    assert first.places[0].mark == "1" and np.isnan(first.vibrato_hz[0])
