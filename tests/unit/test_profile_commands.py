"""The commands that learn a profile: what they say and write, what they refuse, what they keep."""

import os
import re
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import musicxml_build as mx
import pytest
from command import one_sentence, run, run_json
from learnt_examples import HERE, QUESTION, STAND, chosen_note
from studio_stands import stand_of

from handslide.edges.files.examples import read_examples
from handslide.edges.files.userfolder import user_folder
from handslide.faces.cli import profile_ask
from handslide.instrument.learning.example import Answer, Example, Examples
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.profile import kept
from handslide.jobs.profile.kept import change
from handslide.jobs.profile.teach import learn_from, lock_measure
from handslide.studio.choosing.consent import give_consent
from handslide.studio.parts.edits import lock_place
from handslide.studio.parts.openpart import open_part
from handslide.words.speech import speech

F = "--horn", "tenor-f"
SLAMA = Path(__file__).parents[1] / "scores" / "Slama_01.musicxml"
PNG = b"\x89PNG\r\n"


def bars(*lines):
    """A part of four quarter notes a bar, each with a fingering behind a colon or without."""
    made = []
    for line in lines:
        notes = [one.partition(":") for one in line.split()]
        made.append(
            "".join(
                mx.note(
                    name,
                    notations=f"<technical><fingering>{text}</fingering></technical>"
                    if text
                    else "",
                )
                for name, _, text in notes
            )
        )
    return mx.score(mx.part(*made))


# A teacher who leaves the valve alone.
OPEN_HORN = bars(*["C3:6 Bb2:1 C3:6 D3:4", "Bb3:1 C3:6 F3:1 C3:6"] * 4)
PLAIN = bars(*["D3 C3 Bb2 C3", "Eb3 D3 C3 D3"] * 2)


@pytest.fixture
def part(tmp_path):
    path = tmp_path / "open.musicxml"
    path.write_bytes(OPEN_HORN)
    return path


def files():
    folder = user_folder() / "profiles"
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


def text_of(name):
    return (user_folder() / "profiles" / name).read_bytes()


def test_a_profile_is_learnt_used_forgotten_and_learnt_again(part):
    learnt = run_json("profile", "learn", "mira", part, *F)
    assert (learnt["name"], learnt["began_from"]) == ("mira", "by-horn")
    (taken,) = learnt["taken"]
    assert (taken["key"], taken["written"], taken["kept"]) == ("open.musicxml", 32, 0)
    assert learnt["accepted"] and learnt["agreement"][0]["kind"].startswith("Bb")
    assert learnt["agreement"][0]["learnt"] > learnt["agreement"][0]["base"]
    assert learnt["factors"]["shared"]
    assert files() == ["mira.examples.json", "mira.toml"]

    line = "line", "C3 Bb2 C3 D3 Bb3 C3 F3 C3", *F
    usual = [note["mark"] for note in run_json(*line)["notes"]]
    his = [note["mark"] for note in run_json(*line, "--profile", "mira")["notes"]]
    assert his == ["6", "1", "6", "4", "1", "6", "1", "6"] != usual

    # Nothing but the examples counts: learnt again, the file is the same to the bit.
    first = text_of("mira.toml")
    run("profile", "learn", "mira")
    assert text_of("mira.toml") == first
    reset = run_json("profile", "reset", "mira")
    assert reset["examples"][0]["written"] == 32
    assert text_of("mira.toml") == b'title = "mira"\nbegan_from = "by-horn"\n'
    assert [note["mark"] for note in run_json(*line, "--profile", "mira")["notes"]] == usual
    run("profile", "learn", "mira")
    assert text_of("mira.toml") == first

    gone = run_json("profile", "forget", "mira", "open.musicxml", "1:1")
    assert gone["forgotten"] == {"notes": 1, "answers": 0}
    assert gone["examples"][0]["written"] == 31
    gone = run_json("profile", "forget", "mira", part)
    assert (gone["forgotten"]["notes"], gone["examples"]) == (31, [])
    assert text_of("mira.toml") == b'title = "mira"\nbegan_from = "by-horn"\n'


def test_what_is_said_of_it(part):
    told = run("profile", "learn", "mira", part, *F).stdout
    assert "(open.musicxml): 32 notes written" in told
    assert "mira is learnt from 32 notes written." in told
    assert re.search(r"Horns in B♭ with one valve: of \d+ choices, left out in turn", told)
    assert "Use it with --profile mira." in told
    again = run("profile", "learn", "mira", part, *F).stdout
    assert "In place of what was learnt from it before." in again
    assert "mira is learnt from 32 notes written." in again
    why = run("profile", "why", "mira").stdout
    assert "Your choices look as if" in why
    found = run_json("profile", "why", "mira")["changes"]
    assert 1 <= len(found) <= 5
    for row in found:
        assert row["text"] in why
        assert len(row["shows"]) == 2
        assert all(shown["his"] != shown["without"] for shown in row["shows"])
    assert "again as it began" in run("profile", "reset", "mira").stdout
    assert "nothing is learnt" in run("profile", "why", "mira").stdout
    assert "Forgotten: 32 notes." in run("profile", "forget", "mira").stdout
    assert "nothing to learn from yet" in run("profile", "learn", "mira").stdout


def test_what_isnt_explained_is_a_lock_that_mark_takes(tmp_path):
    # The same place as ever, but for two notes that nothing in the music explains.
    path = tmp_path / "odd.musicxml"
    path.write_bytes(bars("Bb2:1 D3:4 Bb2:1 D3:4", "F3:1 F3:1 F3:6 F3:1", "Bb2:1 F3:1 Bb2:1 D3:4"))
    learnt = run_json("profile", "learn", "odd", path, *F)
    locks = [row["lock"] for row in learnt["left"]]
    assert "2:3=6" in locks
    assert f"--lock {locks[0]}" in run("profile", "learn", "odd", path, *F).stdout
    out = tmp_path / "out"
    options = [word for lock in locks for word in ("--lock", lock)]
    marked = run_json("mark", path, "--no-pdf", "-o", out, *F, "--profile", "odd",
                      "--existing", "replace", *options)  # fmt: skip
    marks = {(note["measure"], note["index"]): note["mark"] for note in marked["notes"]}
    assert marks[2, 3] == "6"


def test_a_contradiction_is_shown_with_both_places(tmp_path):
    path = tmp_path / "two.musicxml"
    line = "Bb2:1 D3:4 {} D3:4 Bb2:1"
    path.write_bytes(bars(*(line.format(f"C3:{text}") for text in ("6", "T1", "6"))))
    (clash,) = run_json("profile", "learn", "two", path, *F)["clashes"]
    assert {clash["one"]["mark"], clash["other"]["mark"]} == {"6", "T1"}
    assert (clash["one"]["measure"], clash["other"]["measure"]) == (1, 2)
    told = run("profile", "learn", "two").stdout
    assert "These choices contradict each other" in told


def test_seen_counts_what_was_left_standing(tmp_path):
    path = tmp_path / "plain.musicxml"
    path.write_bytes(PLAIN)
    told = one_sentence(run("profile", "learn", "mira", path, *F, code=1))
    assert "no position over a note" in told and "--seen" in told
    assert not (user_folder() / "profiles").exists()
    (taken,) = run_json("profile", "learn", "mira", path, *F, "--seen", "2")["taken"]
    assert (taken["written"], taken["kept"]) == (0, 8)
    told = run("profile", "learn", "mira", path, *F, "--seen", "end").stdout
    assert "16 notes left standing" in told


def test_two_parts_and_a_profile_to_begin_from(part, tmp_path):
    other = tmp_path / "plain.musicxml"
    other.write_bytes(bars("D3 C3 Bb2 C3"))
    part.write_bytes(bars("C3:6 Bb2:1 C3:6 D3:4"))
    learnt = run_json("profile", "learn", "mira", part, other, *F, "--seen", "end",
                      "--base", "jazz")  # fmt: skip
    assert learnt["began_from"] == "jazz"
    assert [row["key"] for row in learnt["examples"]] == ["open.musicxml", "plain.musicxml"]
    # It stays what it began from until another is named.
    assert run_json("profile", "learn", "mira")["began_from"] == "jazz"
    assert b'began_from = "jazz"' in text_of("mira.toml")
    assert run_json("profile", "learn", "mira", "--base", "by-horn")["began_from"] == "by-horn"
    gone = run_json("profile", "forget", "mira", "plain.musicxml")
    assert [row["key"] for row in gone["examples"]] == ["open.musicxml"]
    assert gone["forgotten"]["notes"] == 4


def test_one_can_learn_from_a_profile_that_was_learnt(part):
    run("profile", "learn", "mira", part, *F)
    learnt = run_json("profile", "learn", "pupil", part, *F, "--base", "mira")
    assert learnt["began_from"] == "mira"
    told = run("profile", "learn", "mira", "--base", "pupil", code=2)
    assert "can't begin from itself: mira ← pupil ← mira" in one_sentence(told)


WRONG = {
    "ours": ("learn", "classical", "PART"),
    "by-horn": ("learn", "by-horn", "PART"),
    "path": ("learn", "../mira", "PART"),
    "dots": ("learn", "..", "PART"),
    "device": ("learn", "con", "PART"),
    "empty": ("learn", "", "PART"),
    "long": ("learn", "x" * 80, "PART"),
    "blank": ("learn", " mira", "PART"),
    "zero": ("learn", "a\x00b", "PART"),
    "base": ("learn", "mira", "PART", "--base", "nobody"),
    "base path": ("learn", "mira", "PART", "--base", "./x.toml"),
    "own base": ("learn", "mira", "PART", "--base", "mira"),
    "measure": ("learn", "mira", "PART", "--seen", "99"),
    "seen of two": ("learn", "mira", "PART", "PART", "--seen", "1"),
    "twice": ("learn", "mira", "PART", "PART"),
    "valve": ("learn", "mira", "PART", "--valves", "Q"),
    "tempo": ("learn", "mira", "PART", "--tempo", "2"),
    "marks": ("learn", "mira", "PART", "--marks", "runes"),
    "no name": ("learn",),
    "no such": ("unlearn", "mira"),
    "no part": ("forget", "known", "other.musicxml"),
    "no spot": ("forget", "known", "open.musicxml", "99:1"),
    "not a spot": ("forget", "known", "open.musicxml", "99"),
    "no terminal": ("ask", "mira", "PART"),
    "by hand": ("learn", "hand", "PART"),
    "elsewhere": ("learn", "elsewhere", "PART"),
    "capitals": ("learn", "Hand", "PART"),
}


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    """The files of a profile that was learnt."""
    folder = tmp_path_factory.mktemp("known")
    path = folder / "open.musicxml"
    path.write_bytes(OPEN_HORN)
    before = os.environ.get("HANDSLIDE_HOME")
    os.environ["HANDSLIDE_HOME"] = str(folder / "home")
    try:
        run("profile", "learn", "known", path, *F)
    finally:
        os.environ["HANDSLIDE_HOME"] = before or ""
    return {path.name: path.read_bytes() for path in (folder / "home" / "profiles").glob("known*")}


@pytest.mark.parametrize("case", WRONG)
def test_what_cant_be_is_one_sentence_and_changes_nothing(case, part, known):
    folder = user_folder() / "profiles"
    folder.mkdir(parents=True)
    for name, data in known.items():
        (folder / name).write_bytes(data)
    (folder / "hand.toml").write_text("seek = 2\n", encoding="utf-8")
    (folder / "elsewhere.toml").write_text('began_from = "jazz"\n', encoding="utf-8")
    before = {name: text_of(name) for name in files()}
    words = [str(part) if word == "PART" else word for word in WRONG[case]]
    one_sentence(run("profile", *words, *(F if words[0] in ("learn", "ask") else ()), code=2))
    assert {name: text_of(name) for name in files()} == before


def test_a_part_that_cant_be_read_changes_nothing(part, tmp_path):
    run("profile", "learn", "mira", part, *F)
    before = text_of("mira.examples.json")
    broken = tmp_path / "broken.musicxml"
    broken.write_bytes(OPEN_HORN[:900])
    other = tmp_path / "other.musicxml"
    other.write_bytes(OPEN_HORN)
    one_sentence(run("profile", "learn", "mira", other, broken, *F, code=1))
    one_sentence(run("profile", "learn", "mira", tmp_path / "absent.musicxml", *F, code=1))
    assert text_of("mira.examples.json") == before


@pytest.mark.parametrize("data", [b"", b"{", b'{"form": 1}', b'{"form": 9}'])
def test_examples_that_cant_be_read_are_left_as_they_are(data, part):
    folder = user_folder() / "profiles"
    folder.mkdir(parents=True)
    (folder / "mira.examples.json").write_bytes(data)
    for words in (("learn", "mira", part, *F), ("why", "mira"), ("reset", "mira"),
                  ("forget", "mira")):  # fmt: skip
        told = one_sentence(run("profile", *words, code=1))
        assert "mira.examples.json" in told
    assert text_of("mira.examples.json") == data
    assert files() == ["mira.examples.json"]


@pytest.mark.parametrize("command", ["why", "reset", "forget", "learn"])
def test_what_was_never_learnt_is_said_to_be_so(command):
    told = one_sentence(run("profile", command, "mira", code=1))
    assert not (user_folder() / "profiles").exists()
    assert "no profile 'mira' was learnt here" in told


def test_killed_between_its_two_files_nothing_is_lost(part, monkeypatch):
    def dies(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(kept, "learnt_toml", dies)
        run("profile", "learn", "mira", part, *F, code=1)
    assert files() == ["mira.examples.json"]
    learnt = run_json("profile", "learn", "mira")
    assert learnt["examples"][0]["written"] == 32
    assert files() == ["mira.examples.json", "mira.toml"]


def test_two_at_once_lose_nothing_of_each_other(tmp_path):
    """Processes that learn one profile at the same time, each from a part of its own."""
    parts = [tmp_path / f"part{number}.musicxml" for number in range(2)]
    for path in parts:
        path.write_bytes(bars("C3:T1 D3:4 Bb2:1 C3:T1"))
    words = [sys.executable, "-m", "handslide", "profile", "learn", "mira", *F]
    running = [
        subprocess.Popen([*words, str(path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for path in parts
    ]
    for one in running:
        _, told = one.communicate(timeout=300)
        assert one.returncode == 0, told
    examples = read_examples(text_of("mira.examples.json"), "x").examples
    assert sorted(one.key for one in examples) == [path.name for path in parts]


def test_who_waits_too_long_is_told(part, monkeypatch):
    monkeypatch.setattr(kept, "PATIENCE_S", 0.0)
    begun, done = threading.Event(), threading.Event()

    def holds():
        with kept.held("mira", new=True):
            begun.set()
            done.wait(60)

    other = threading.Thread(target=holds)
    other.start()
    try:
        assert begun.wait(60)
        told = one_sentence(run("profile", "learn", "mira", part, *F, code=1))
        assert "another handslide is at work" in told
    finally:
        done.set()
        other.join()
    run("profile", "learn", "mira", part, *F)


def test_parts_of_one_score_are_told_apart_and_forgotten_together(tmp_path):
    path = tmp_path / "two.musicxml"
    measures = mx.note("C3", notations="<technical><fingering>6</fingering></technical>") * 4
    path.write_bytes(
        mx.score(mx.part(measures), mx.part(measures, part_id="P2"), names=("First", "Second"))
    )
    run("profile", "learn", "mira", path, *F, "--part", "First")
    learnt = run_json("profile", "learn", "mira", path, *F, "--part", "Second")
    assert [row["key"] for row in learnt["examples"]] == ["two.musicxml#P1", "two.musicxml#P2"]
    gone = run_json("profile", "forget", "mira", "two.musicxml#P1")
    assert [row["key"] for row in gone["examples"]] == ["two.musicxml#P2"]
    run("profile", "learn", "mira", path, *F, "--part", "First")
    assert run_json("profile", "forget", "mira", path)["examples"] == []


def test_a_part_can_be_forgotten_by_its_title(tmp_path):
    path = tmp_path / "a.musicxml"
    path.write_bytes(
        OPEN_HORN.replace(b"<part-list>", b"<movement-title>Song</movement-title><part-list>")
    )
    run("profile", "learn", "mira", path, *F)
    assert run_json("profile", "forget", "mira", "Song")["examples"] == []


@pytest.mark.parametrize(
    ("measure", "lock"),
    [("12", "12"), ("X1", "X1"), ("II: 9", "9"), ("12 (#45)", "#45"), ("II: 12 (#45)", "#45")],
)
def test_a_measure_as_a_lock_names_it(measure, lock):
    assert lock_measure(chosen_note(measure=measure)) == lock


def test_measures_called_alike_are_forgotten_and_locked_by_their_place(tmp_path):
    path = tmp_path / "again.musicxml"
    text = bars("F3:6 C3:6 D3:4 C3:6", "Bb2:1 C3:6 F3:6 D3:4").decode()
    path.write_text(text.replace('<measure number="2">', '<measure number="1">'))
    # One measure in two halves has one number; a lock needs its place all the same.
    learnt = run_json("profile", "learn", "mira", path, *F)
    assert all(row["lock"].startswith("#") for row in learnt["left"])
    for row in learnt["left"]:
        run("mark", path, "--no-pdf", "-o", tmp_path / "out", *F, "--lock", row["lock"], "--force")
    gone = run_json("profile", "forget", "mira", path, "#2:3")
    assert gone["forgotten"]["notes"] == 1


def test_what_a_studio_has_takes_the_place_of_what_it_had(tmp_path):
    mine = Example("mine.mxl", "Mine", STAND, (HERE,))
    stands = [Example(f"stand:{k}", "Part", STAND, (HERE,)) for k in (1, 2)]
    asked = replace(QUESTION, key="stand:1")
    say, wishes = speech("en"), PartWishes()
    change("mira", lambda held: Examples((mine, *stands), (Answer(asked, 1),)), new=True)
    left = Examples((replace(stands[1], title="Anew"),))
    learned = learn_from("mira", (), STAND, wishes, say, studio=left).learned
    kept_now = learned.kept.examples
    assert [(one.key, one.title) for one in kept_now.examples] == [
        ("mine.mxl", "Mine"), ("stand:2", "Anew"),
    ]  # fmt: skip
    assert kept_now.answers == ()


def test_a_studios_choices_are_learnt_from_if_it_may_collect_them(studio, tmp_path):
    stand = stand_of(studio, profile="by-horn")
    part = open_part(studio, stand)
    number, place = next(
        (number, other)
        for number, pitch in enumerate(part.routed.pitches)
        for other in part.routed.setup.book.places(pitch.midi)
        if other != part.routed.places.get(number)
    )
    lock_place(studio, stand, number, place.valves, place.partial)
    words = "profile", "learn", "mira", "--studio", studio.folder
    assert "until you allow it" in one_sentence(run(*words, code=2))
    give_consent(studio, earlier=True)
    learnt = run_json(*words)
    (row,) = learnt["examples"]
    assert (row["key"], row["changed"]) == (f"stand:{stand}", 1)
    told = one_sentence(run("profile", "learn", "mira", "--studio", tmp_path / "none", code=2))
    assert "there is no studio in" in told


# Questions.


@pytest.fixture
def plain(tmp_path):
    path = tmp_path / "plain.musicxml"
    path.write_bytes(bars("D3 C3 Bb2 C3", "Eb3 D3 C3 D3", "F3 D4 Bb3 F3", "Bb3 Gb3 F4 D4"))
    return path


def test_a_question_as_json_and_its_answer(plain, tmp_path):
    asked = run_json("profile", "ask", "mira", plain, *F)
    question = asked["question"]
    ways = [[note[way]["mark"] for note in question["notes"]] for way in ("first", "second")]
    assert ways[0] != ways[1] and all(map(all, ways))
    assert not (user_folder() / "profiles").exists()  # asking alone keeps nothing
    picture = tmp_path / "both.png"
    answered = run_json("profile", "ask", "mira", plain, *F, "--answer", "2", "-o", picture)
    assert picture.read_bytes().startswith(PNG)
    assert (answered["picked"], answered["question"], answered["answers"]) == (2, question, 1)
    one_sentence(run("profile", "ask", "mira", plain, *F, "--answer", "1", "-o", picture, code=1))
    again = run_json("profile", "ask", "mira", plain, *F, "--answer", "neither")
    assert (again["picked"], again["answers"]) == (0, 2)
    (first, second) = read_examples(text_of("mira.examples.json"), "x").answers
    assert (first.picked, second.picked) == (2, 0)
    gone = run_json("profile", "forget", "mira", "plain.musicxml")
    assert (gone["forgotten"]["answers"], gone["answers"]) == (2, 0)


@pytest.mark.parametrize("end", ["q\n", ""])
def test_questions_on_a_terminal(end, monkeypatch):
    monkeypatch.setattr(profile_ask, "is_asked", lambda: True)
    told = run("profile", "ask", "mira", SLAMA, *F, typed=f"x\n1\n0\n{end}").stdout
    assert told.count("Which would you write?") == 3
    assert "Type 1, 2, 0 or q." in told and "Stopped" in told
    # What was learnt stands once, at the end; the picture goes when the questions are over.
    assert told.count("is learnt from") == 1 and told.index("Stopped") < told.index(
        "is learnt from"
    )
    assert not (user_folder() / "profiles" / "mira.question.png").exists()
    answers = read_examples(text_of("mira.examples.json"), "x").answers
    assert [one.picked for one in answers] == [1, 0]
