"""The game "Which would you write?": its questions, answers, undo and end."""

import re

import pytest
from studio_stands import SCORES, stand_of

from handslide.ground.errors import BadUsage, NotFound, ScoreError
from handslide.instrument.learning.example import ChosenNote, Question, Stand
from handslide.studio.choosing.consent import give_consent
from handslide.studio.learning.answers import answers
from handslide.studio.learning.dealing import begin_game, find_game, stands_to_ask
from handslide.studio.learning.game import MOST_GAMES, Card, Game, Games, Score
from handslide.words.speech import speech


def question(stand, number=0, picked=(((), 3), ((), 4))):
    note = ChosenNote(62, "D4", 0.0, 0.5, False, False, "1", 1, number)
    first, second = picked
    horn = None  # the flow never looks at it
    return Question(f"stand:{stand}", "", Stand(horn), (note,), False, (first,), (second,))


class Teacher:
    """What the game asks about and where it keeps the answers."""

    def __init__(self, left):
        self.left = left  # questions by stand
        self.kept = []
        self.before = []
        self.stands = []

    def deal(self, stand, before):
        self.before.append(list(before))
        self.stands.append(stand)
        rows = self.left[stand]
        if isinstance(rows, Exception):
            raise rows
        return Card(rows.pop(0), {"stand": stand}) if rows else None

    def keep(self, asked, picked):
        self.kept.append((asked.key, asked.notes[0].number, picked))

    def game(self):
        return Game(list(self.left), self.deal, self.keep, self.kept.pop)


def test_stands_take_turns_until_nothing_is_left():
    teacher = Teacher({1: [question(1, 0), question(1, 1)], 2: [question(2, 0)], 3: []})
    game = teacher.game()
    asked = [game.card(number).question for number in range(3)]
    assert [one.key for one in asked] == ["stand:1", "stand:2", "stand:1"]
    assert game.card(3) is None
    assert game.card(0).question is asked[0]
    with pytest.raises(NotFound):
        game.card(9)


def test_what_was_asked_is_told_so_that_it_is_not_asked_again():
    teacher = Teacher({1: [question(1, 0), question(1, 7)], 2: [question(2, 0)]})
    game = teacher.game()
    cards = [game.card(number) for number in range(3)]
    assert teacher.before == [[], [cards[0].question], [card.question for card in cards[:2]]]


def test_a_stand_without_a_question_is_looked_at_again_after_the_next_answer():
    teacher = Teacher({1: [question(1, 0)]})
    game = teacher.game()
    game.card(0)
    assert game.card(1) is None
    game.answer(0, 1)
    teacher.left[1].append(question(1, 3))
    assert game.card(1).question.notes[0].number == 3


def test_stands_without_questions_are_looked_at_last():
    teacher = Teacher({1: [], 2: [question(2, number) for number in range(3)]})
    game = teacher.game()
    for number in range(3):
        assert game.card(number).question.key == "stand:2"
    assert teacher.stands == [1, 2, 2, 2]
    assert game.card(3) is None
    assert teacher.stands == [1, 2, 2, 2, 2, 1]


def test_a_part_that_cannot_be_opened_is_left_out():
    teacher = Teacher({1: ScoreError("scores.no_music", part="P1"), 2: [question(2)]})
    game = teacher.game()
    assert game.card(0).question.key == "stand:2"


def test_answers_are_kept_once_and_can_be_taken_back():
    teacher = Teacher({1: [question(1, number) for number in range(3)]})
    game = teacher.game()
    for number in range(3):
        game.card(number)
    game.answer(0, 2)
    game.answer(0, 1)  # a second press
    game.answer(1, 0)
    assert teacher.kept == [("stand:1", 0, 2), ("stand:1", 1, 0)]
    assert game.score == Score(2, 1)
    assert game.undo() == 1
    assert teacher.kept == [("stand:1", 0, 2)]
    game.answer(1, 1)
    assert teacher.kept == [("stand:1", 0, 2), ("stand:1", 1, 1)]
    assert [game.undo(), game.undo(), game.undo()] == [1, 0, None]
    assert teacher.kept == []
    assert game.score == Score(0, 0)


@pytest.mark.parametrize("picked", [3, -1])
def test_only_the_two_ways_or_neither_can_be_picked(picked):
    game = Teacher({1: [question(1)]}).game()
    game.card(0)
    with pytest.raises(BadUsage):
        game.answer(0, picked)
    with pytest.raises(NotFound):
        game.answer(1, 1)


def test_what_could_not_be_kept_is_not_answered():
    def full(asked, picked):
        raise BadUsage("learning.no_consent")

    game = Game([1], Teacher({1: [question(1)]}).deal, full, lambda: None)
    game.card(0)
    with pytest.raises(BadUsage):
        game.answer(0, 1)
    assert game.score == Score(0, 0)


def test_old_games_and_those_of_a_student_who_leaves_are_forgotten():
    games, game = Games(), Teacher({}).game()
    keys = [games.add(game) for _ in range(MOST_GAMES + 1)]
    assert games.find(keys[-1]) is game
    with pytest.raises(NotFound):
        games.find(keys[0])
    games.forget_student(1)
    with pytest.raises(NotFound):
        games.find(keys[-1])


def test_a_round_about_the_parts_on_stands(studio):
    give_consent(studio, earlier=True)
    data = (SCORES / "Slama_01.musicxml").read_bytes()
    stand = stand_of(studio, name="Jonas Feld", data=data, file="Slama.musicxml")
    game = find_game(studio, begin_game(studio, speech("en"), "narrow"))
    cards = [game.card(number) for number in range(2)]
    shown = cards[0].shown
    assert shown["who"].startswith("Jonas Feld")
    assert shown["part"].startswith(f"/stands/{stand}?note=")
    one, other = shown["ways"]
    assert one["words"] != other["words"]
    assert [row["hz"] for row in one["played"]] == [row["hz"] for row in other["played"]]
    for way in (one, other):
        drawn = set(re.findall(r'data-note="([^"]+)"', way["svg"]))
        assert {note["el"] for note in way["notes"]} <= drawn
        assert len(way["notes"]) == len(way["played"]) and way["played"][0]["on_s"] == 0.0
    assert cards[1].question != cards[0].question
    game.answer(0, 2)
    assert [(row.question, row.picked) for row in answers(studio)] == [(cards[0].question, 2)]
    assert game.undo() == 0
    assert answers(studio) == ()


def test_invented_students_are_not_asked_about(example):
    assert stands_to_ask(example) == ()


def test_without_a_yes_there_is_no_round(studio):
    with pytest.raises(BadUsage):
        begin_game(studio, speech("en"), "wide")
