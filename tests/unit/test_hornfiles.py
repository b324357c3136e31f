"""Horn and profile files: the built-in ones, a user's own, and one sentence for every wrong one."""

from dataclasses import fields

import pytest
from anyhorn import load_profile

from handslide.edges.files.horns import HORN_FILES, load_horn, read_horn
from handslide.edges.files.profiles import read_profile
from handslide.ground.errors import BadData, HornError
from handslide.instrument.horn import Deviation
from handslide.instrument.profile import Profile
from handslide.words.horns import MODELS, horn_title
from handslide.words.speech import speech

GOOD = 'title = "Mine"\nclosed = "Bb1"\ntravel_mm = 650\n'


@pytest.fixture(autouse=True)
def _own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDSLIDE_HOME", str(tmp_path / "home"))


@pytest.mark.parametrize("name", HORN_FILES.ours)
def test_built_in_horns_load(name):
    description = load_horn(name)
    assert (description.name, description.model, description.title) == (name, name, "")
    horn = description.tuned()
    assert horn.position(horn.travel_m) > 6.0  # 6th and further on every horn that is sold


def test_every_horn_of_ours_has_its_name_in_words():
    assert tuple(MODELS) == HORN_FILES.ours
    assert horn_title(speech("en"), load_horn("alto-bb")) == "Alto trombone in E♭ with B♭ valve"


def test_a_horn_is_called_as_its_owner_says_else_as_its_model_else_as_its_file():
    text = 'closed = "Bb1"\ntravel_mm = 650\n'
    for head, called in (
        ('title = "Old King"\nmodel = "tenor"\n', "Old King"),
        ('model = "tenor"\n', "Tenor trombone in B♭"),
        ("", "mine"),
    ):
        horn = read_horn(head + text, "mine.toml")
        assert horn_title(speech("en"), horn) == speech("en").written(horn.called) == called


def test_the_named_horns_are_those_of_the_manual():
    assert HORN_FILES.ours == (
        "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent",
        "alto", "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
    )  # fmt: skip


@pytest.mark.parametrize("name", ["classical", "beginner", "bass", "jazz"])
def test_built_in_profiles_load(name):
    profile = load_profile(name)
    assert profile.name == name
    assert profile.title


def test_the_classical_profile_has_the_defaults():
    got, default = load_profile("classical"), Profile()
    for item in fields(Profile):
        if item.name not in ("title", "partials"):
            assert getattr(got, item.name) == getattr(default, item.name), item.name


def test_a_whole_horn_file():
    horn = read_horn(
        GOOD
        + 'lip_up_cents = 0\ntemp_c = 0\n[[valves]]\nname = "F"\nclosed_hz = 43.5\n'
        + '[[valves]]\nname = "D"\nneeds = "F"\nclosed = "D1"\n'
        + "[[deviations]]\npartial = 5\ncents = -4\nslope_cents_per_m = 2.5\n"
        + '[[deviations]]\nvalves = ["F"]\npartial = 3\ncents = 0\n',
        "mine.toml",
    )
    assert (horn.name, horn.title, horn.travel_m) == ("mine", "Mine", 0.65)
    # 0 is a value, not "left out".
    assert (horn.lip_up_cents, horn.temp_c) == (0.0, 0.0)
    assert [v.name for v in horn.valves] == ["F", "D"]
    assert horn.valves[0].closed.hz == 43.5
    assert horn.valves[1].needs == "F"
    assert horn.deviations == (Deviation((), 5, -4.0, 2.5), Deviation(("F",), 3, 0.0))


def test_what_is_left_out_has_its_default():
    horn = read_horn('closed = "Bb1"\ntravel_mm = 650', "plain.toml")
    assert (horn.title, horn.lip_up_cents, horn.temp_c) == ("plain", 20.0, 25.0)
    assert horn.valves == horn.deviations == ()


VALVE = '[[valves]]\nname = "F"\n'
WRONG = {
    # The slips that people make with units; each sentence names the key and the slip.
    "metres": ('closed = "Bb1"\ntravel_mm = 0.65', "travel_mm = 0.65 .* in metres.* = 650"),
    "centimetres": ('closed = "Bb1"\ntravel_mm = 65', "travel_mm = 65 .* in centimetres.* = 650"),
    "inches": ('closed = "Bb1"\ntravel_mm = 25.6', "in inches.* = 650"),
    "far too long": ('closed = "Bb1"\ntravel_mm = 6500', "travel_mm = 6500 is outside 150 to 1200"),
    "travel in metres": ('closed = "Bb1"\ntravel_m = 0.65', "travel_mm is missing.* travel_m:"),
    "travel alone": ('closed = "Bb1"\ntravel = 65', "travel_mm is missing.*there is travel:"),
    "no travel": ('closed = "Bb1"', "travel_mm is missing: how far the slide goes out"),
    "travel in words": ('closed = "Bb1"\ntravel_mm = "650"', "travel_mm = '650' must be a number"),
    "travel true": ('closed = "Bb1"\ntravel_mm = true', "travel_mm = True must be a number"),
    "no closed": ("travel_mm = 650", "give either closed .* or closed_hz"),
    "both closed": ('closed = "Bb1"\nclosed_hz = 58\ntravel_mm = 650', "give either closed"),
    "closed number": ("closed = 58.27\ntravel_mm = 650", "closed = 58.27 must be a note in quotes"),
    "no octave": ('closed = "Bb"\ntravel_mm = 650', "the octave is missing: did you mean Bb2"),
    "German": ('closed = "H1"\ntravel_mm = 650', "H is the German name"),
    "octave up": ('closed = "Bb4"\ntravel_mm = 650', "isn't a slide-brass horn.* right octave"),
    "hz wide": ("closed_hz = 5827\ntravel_mm = 650", "closed_hz = 5827 is outside 15 to 500 Hz"),
    "hz nan": ("closed_hz = nan\ntravel_mm = 650", "closed_hz = nan is outside"),
    "unknown key": (GOOD + "valvs = []", "unknown key 'valvs': did you mean valves"),
    "far key": (GOOD + "colour = 1", "unknown key 'colour': known keys are title, model, closed"),
    "title number": ('closed = "Bb1"\ntravel_mm = 650\ntitle = 3', "title = 3 must be text"),
    "lip": (GOOD + "lip_up_cents = 200", "lip_up_cents = 200 is outside 0 to 100 cents"),
    "warm": (GOOD + "temp_c = 68", "temp_c = 68 is outside 0 to 30 °C"),
    "valves not tables": (GOOD + 'valves = ["F"]', r"a list of tables: .*\[valves\]"),
    "valve table": (GOOD + '[valves]\nname = "F"', "valves must be a list of tables"),
    "valve no name": (GOOD + '[[valves]]\nclosed = "F1"', "valve 1: name is missing"),
    "valve blank": (GOOD + '[[valves]]\nname = " "\nclosed = "F1"', "valve 1: name is missing"),
    "valve no pitch": (GOOD + VALVE, "valve 1: give either closed"),
    "valve key": (GOOD + VALVE + 'closed = "F1"\nneed = "D"', "'need': did you mean needs"),
    "valve needs": (GOOD + VALVE + 'closed = "F1"\nneeds = "D"', "'F' needs valve 'D', which must"),
    "valve needs number": (GOOD + VALVE + 'closed = "F1"\nneeds = 2', "needs = 2 must be the name"),
    "valve twice": (
        GOOD + VALVE + 'closed = "F1"\n' + VALVE + 'closed = "F1"', "two valves are called 'F'",
    ),
    "valve octave": (GOOD + VALVE + 'closed = "F0"', "valve 'F' would change .* right octave"),
    "valve same": (GOOD + VALVE + 'closed = "Bb1"', "'F' would change the tube by 0.000 m"),
    "deviation valves": (
        GOOD + '[[deviations]]\nvalves = "F"\npartial = 5\ncents = 1', "deviation 1: valves must",
    ),
    "deviation no valve": (
        GOOD + '[[deviations]]\nvalves = ["F"]\npartial = 5\ncents = 1', "can't engage",
    ),
    "deviation partial": (
        GOOD + "[[deviations]]\npartial = 0\ncents = 1", "deviation 1: partial = 0 must be a whole",
    ),
    "deviation no partial": (GOOD + "[[deviations]]\ncents = 1", "partial = None must be"),
    "deviation no cents": (GOOD + "[[deviations]]\npartial = 5", "cents = None must be a number"),
    "deviation far": (
        GOOD + "[[deviations]]\npartial = 5\ncents = 500", "cents = 500 is outside −100 to 100",
    ),
    "deviation slope": (
        GOOD + "[[deviations]]\npartial = 5\ncents = 1\nslope_cents_per_m = 999",
        "slope_cents_per_m = 999 is outside",
    ),
    "not TOML": ("closed: Bb1", "isn't valid TOML"),
    "twice": ('closed = "Bb1"\nclosed = "Bb1"', "isn't valid TOML"),
}  # fmt: skip


def one_sentence(error):
    """The text of an error, which must be one line that names the file once."""
    text = str(error.value)
    assert "\n" not in text
    assert len(text) < 600
    assert text.count("mine.toml") == 1
    return text


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_horn_file_gets_one_sentence(case, tmp_path):
    text, words = WRONG[case]
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(HornError, match=words) as error:
        load_horn(str(path))
    one_sentence(error)


@pytest.mark.parametrize("load", [load_horn, load_profile])
def test_what_is_not_a_text_file(load, tmp_path):
    kind = load.__name__.removeprefix("load_")
    with pytest.raises(BadData, match=f"there is no {kind} file .*absent.toml"):
        load(str(tmp_path / "absent.toml"))
    with pytest.raises(BadData, match=f"is a folder, not a {kind} file"):
        load(str(tmp_path))
    latin = tmp_path / "latin.toml"
    latin.write_bytes('title = "Posäune"'.encode("latin-1"))
    with pytest.raises(BadData, match=f"isn't text in UTF-8: is it a {kind} file"):
        load(str(latin))
    utf16 = tmp_path / "wide.toml"
    utf16.write_bytes(GOOD.encode("utf-16"))
    with pytest.raises(BadData, match="isn't text in UTF-8"):
        load(str(utf16))
    large = tmp_path / "large.toml"
    large.write_bytes(b"# " + b"x" * 1_000_001)
    with pytest.raises(BadData, match=f"is too large for a {kind} file"):
        load(str(large))


@pytest.mark.parametrize("load", [load_horn, load_profile])
def test_a_path_below_a_file(load, tmp_path):
    (tmp_path / "mine.toml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(BadData, match=r"can't read .*mine.toml.inner.toml: Not a directory"):
        load(str(tmp_path / "mine.toml" / "inner.toml"))


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_a_byte_order_mark_and_windows_line_ends_are_read(ending, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", ending).encode())
    assert load_horn(str(path)).title == "Mine"


def test_a_horn_of_ones_own_by_path_and_by_name(tmp_path):
    folder = tmp_path / "home" / "horns"
    folder.mkdir(parents=True)
    (folder / "grandfather.toml").write_text(GOOD, encoding="utf-8")
    assert load_horn(str(folder / "grandfather.toml")).name == "grandfather"
    assert load_horn("grandfather").title == "Mine"
    with pytest.raises(HornError, match="did you mean grandfather"):
        load_horn("granfather")


@pytest.mark.parametrize(
    ("load", "name", "words"),
    [
        (load_horn, "tenor-g", "no horn called 'tenor-g': did you mean tenor"),
        (load_horn, "tenr-f", "did you mean tenor-f"),
        (load_horn, "", "a folder|no horn called ''"),
        (load_horn, "xyzzy", r"no horn called 'xyzzy' \(there are tenor, tenor-f"),
        (load_profile, "clasical", "no profile called 'clasical': did you mean classical"),
        (load_profile, "swing", r"no profile called 'swing' \(there are classical, beginner, bass"),
    ],
)
def test_a_name_that_is_not_there(load, name, words):
    with pytest.raises(BadData, match=words):
        load(name)


WRONG_PROFILES = {
    "unknown": ("turn = 3", "unknown key 'turn': (did you mean|known keys)"),
    "typo": ("distance_per_n = 3", "'distance_per_n': did you mean distance_per_m"),
    "name": ('name = "x"', "unknown key 'name'"),
    "negative": ("between = -1", "between = -1 must be 0 or more"),
    "text": ('between = "1"', "between = '1' must be 0 or more"),
    "true": ("between = true", "between = True must be 0 or more"),
    "nan": ("between = nan", "between = nan must be 0 or more"),
    "list": ("between = [1]", r"between = \[1\] must be 0 or more"),
    "time 0": ("hold_s = 0", "hold_s must be above 0"),
    "turn 0": ("turn_ready_m = 0.0", "turn_ready_m must be above 0"),
    "partials": ("partials = 3", "partials must be a table"),
    "partial word": ("[partials]\nseven = 1", "partials: seven = 1 must be a partial 1 to 16"),
    "partial 0": ("[partials]\n0 = 1", "partials: 0 = 1 must be"),
    "partial 17": ("[partials]\n17 = 1", "partials: 17 = 1 must be"),
    "partial minus": ("[partials]\n7 = -1", "partials: 7 = -1 must be"),
    "partial text": ('[partials]\n7 = "1"', "partials: 7 = '1' must be"),
    "not TOML": ("between: 1", "isn't valid TOML"),
}


@pytest.mark.parametrize("case", WRONG_PROFILES)
def test_a_wrong_profile_file_gets_one_sentence(case, tmp_path):
    text, words = WRONG_PROFILES[case]
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadData, match=words) as error:
        load_profile(str(path))
    one_sentence(error)


def test_a_profile_of_ones_own(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text('title = "Jazz"\nvalve_move = 0\n[partials]\n7 = 0\n9 = 0.5\n')
    profile = load_profile(str(path))
    assert (profile.name, profile.title) == ("mine", "Jazz")
    assert profile.valve_move == 0  # 0 is a weight
    assert dict(profile.partials) == {7: 0.0, 9: 0.5}
    assert profile.distance_per_m == Profile().distance_per_m
    assert read_profile("", "empty.toml").between == Profile().between
