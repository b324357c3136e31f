"""The words of a daily routine and of a plan over weeks."""

from collections.abc import Sequence
from datetime import date

from handslide.ground.facts import Fact
from handslide.words.drills import level_name
from handslide.words.messages import N_, NN_, NNP_, NP_
from handslide.words.translate import Translator

_TITLE = N_("Daily routine, {minutes:d} minutes")
_WEEK = N_("{level} · this week: {scale} · sheet {seed:d}")
_DAY = N_("{level} · {day} · this week: {scale} · sheet {seed:d}")
ROUTINE_CAUTION = N_(
    "Minutes: the music at its tempo and the rests. When the lips are tired, stop for today; one "
    "day off a week does good."
)
DIZZY = N_("Without the horn, shoulders low, one count a second. When you feel dizzy, stop.")
# Translators: a part of a routine and an exercise: "Long tones: Louder and softer".
_BLOCK_TITLE = N_("{block}: {exercise}")
# Translators: counts of breathing exercises; {times} is such as "twice".
_BREATH = N_("In for {counts_in:d}, out for {counts_out:d}, {times}.")
# Translators: how much time a part of a routine takes.
_MINUTES = NP_("duration", "{minutes:.1f} min")
_SAID_BY_TITLES = ("lip-slurs",)
_TIMES = {1: NP_("how often", "once"), 2: NP_("how often", "twice")}
_MORE_TIMES = NNP_("how often", "{count:d} time", "{count:d} times")
# Translators: beside an exercise: how often it is played, the rest after it, and how long both
# take: "3 ×, rest 40 s: 2.1 min".
_ROW = N_("{times:d} ×, rest {rest_s:d} s: {duration}")
_PLAN_TITLE = NN_("Plan for {count:d} week", "Plan for {count:d} weeks")
_PLAN_LINE = N_("{level} · {minutes:d} minutes a day")
PLAN_NOTE = N_(
    "A week has one key. Each day its scale is played in that day's articulation; the boxes are to "
    "tick. ↺ comes back: what was weak is played again 1, 3 and 7 days later, and from "
    "the beginning when it fails again. Keys and days are common practice; a day off does no harm."
)
WRITE_WEAK = N_("Weak this week, to play again after 1, 3 and 7 days:")
_WEEK_TITLE = N_("Week {number:d}")
# Translators: the first and the last day of a week.
_DATES = N_("{first} – {last}")
# Translators: a day of a plan: its short name and number, such as "Mon 30".
_DAY_LINE = N_("{day} {number:d}")
BY_DAY = N_("Each day in the articulation that stands here for it.")


def routine_title(say: Translator, minutes: int) -> str:
    """What stands over a routine."""
    return say(_TITLE, minutes=minutes)


def week_line(say: Translator, level: str, scale: Fact, seed: int, day: int | None) -> str:
    """The level, the key, the day of the week (0: Monday) and the seed of a routine."""
    if day is None:
        return say(_WEEK, level=level_name(say, level), scale=scale, seed=seed)
    name = say.weekday(day, in_full=True)
    return say(_DAY, level=level_name(say, level), scale=scale, seed=seed, day=name)


def block_name(say: Translator, name: str) -> str:
    """What a part of a routine is called. Raises KeyError."""
    return say.named("routine", name)


def block_title(say: Translator, name: str, title: str) -> str:
    """A part of a routine and the exercise in it, whose title may say it all."""
    if name in _SAID_BY_TITLES:
        return title
    return say(_BLOCK_TITLE, block=block_name(say, name), exercise=title)


def times_text(say: Translator, times: int) -> str:
    """How often something is played."""
    if times in _TIMES:
        return say(_TIMES[times])
    return say(_MORE_TIMES, count=times)


def breath_line(say: Translator, counts_in: int, counts_out: int, times: int) -> str:
    """One breathing exercise."""
    how_often = times_text(say, times)
    return say(_BREATH, counts_in=counts_in, counts_out=counts_out, times=how_often)


def minutes_text(say: Translator, seconds: float) -> str:
    """How long something takes."""
    return say(_MINUTES, minutes=seconds / 60.0)


def row_line(say: Translator, times: int, rest_s: int, seconds: float) -> str:
    """How often an exercise is played, how long the rest is, and how long both take."""
    return say(_ROW, times=times, rest_s=rest_s, duration=minutes_text(say, seconds))


def day_names(say: Translator, first: int = 0) -> tuple[str, ...]:
    """Seven days, from the ``first`` on (0: Monday), short."""
    return tuple(say.weekday((first + day) % 7) for day in range(7))


def some_days(say: Translator, days: Sequence[int], first: int = 0) -> str:
    """Days of a week, short, one after the other."""
    names = day_names(say, first)
    return ", ".join(names[day] for day in days)


def plan_title(say: Translator, weeks: int) -> str:
    """What stands over a plan."""
    return say(_PLAN_TITLE, count=weeks)


def plan_line(say: Translator, level: str, minutes: int) -> str:
    """The level of a plan, and how long its days are."""
    return say(_PLAN_LINE, level=level_name(say, level), minutes=minutes)


def week_title(say: Translator, number: int) -> str:
    """A week of a plan, counted from 1."""
    return say(_WEEK_TITLE, number=number)


def week_dates(say: Translator, first: date, last: date) -> str:
    """From when to when a week is."""
    return say(_DATES, first=say.day(first), last=say.day(last))


def day_line(say: Translator, when: date) -> str:
    """A day of a plan, short."""
    return say(_DAY_LINE, day=say.weekday(when.weekday()), number=when.day)
