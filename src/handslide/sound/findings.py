"""What a teacher would say of a take besides its pitches, worst first.

Each thing is weighed by how far it passes what is noticed or usual; only what isn't chance, and
what the recording lets one believe, is said. The limits are chosen by us where no source stands.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from handslide.ground.facts import Fact, fact
from handslide.sound.attacks import Attack
from handslide.sound.dynamics import Contrast
from handslide.sound.rhythm import Rhythm, Timing, noticed_ms
from handslide.sound.slurs import STOPPED_DB, Transition
from handslide.sound.trust import Trust

MOST_FINDINGS = 3
_SURE = 2.5  # standard errors
_TREND_PERCENT = 4.0
_TEMPO_PERCENT = 2.5  # noticed of a tempo: as of times between notes
_LEAST_OF_KIND = 4
_UNEVEN = 2.0  # times what is noticed
_CRACKED_SHARE, _LATE_SHARE = 0.04, 0.25
_SLUR_DIP_DB, _SLUR_SHARE, _LEAST_SLURS = 8.0, 0.34, 3
_SMEAR_CENTS = 80.0
_PITCH_CENTS, _LEVEL_DB = 12.0, 2.0
_LEAST_LONG = 4
_TOLD_SHARE, _TOLD_DB = 0.8, 2.0
_JUST_CENTS = 10.0
_LEAST_AGAINST = 3


@dataclass(frozen=True, slots=True)
class Steadiness:
    """The steadiness of a long note: its pitch in cents beside vibrato, its level in dB."""

    pitch_sd_cents: float
    level_sd_db: float


@dataclass(frozen=True, slots=True)
class Asked:
    """All that findings are made from; ``between_s`` is the usual time between the notes.

    ``slurs`` are those that are written. ``just_cents`` are against a drone, if there was one.
    """

    trust: Trust
    attacks: Sequence[Attack] = ()
    slurs: Sequence[Transition] = ()
    steady: Sequence[Steadiness] = ()
    rhythm: Rhythm | None = None
    between_s: float = 0.5
    contrasts: Sequence[Contrast] = ()
    just_cents: Sequence[float] = ()


def worst_first(asked: Asked) -> tuple[Fact, ...]:
    """At most three things to say, worst first."""
    ranked = [
        *_of_rhythm(asked),
        *_of_attacks(asked),
        *_of_slurs(asked),
        *_of_steadiness(asked),
        *_of_dynamics(asked),
        *_of_drone(asked),
    ]
    ranked.sort(key=lambda pair: -pair[0])
    return tuple(said for _, said in ranked)[:MOST_FINDINGS]


_Ranked = list[tuple[float, Fact]]


def _of_rhythm(asked: Asked) -> _Ranked:
    rhythm = asked.rhythm
    if rhythm is None or asked.trust.of("rhythm") == "not":
        return []
    found: _Ranked = []
    noticed = noticed_ms(asked.between_s)
    trend = rhythm.trend_percent
    if abs(trend) >= _TREND_PERCENT and abs(trend) > _SURE * rhythm.trend_se:
        weight = abs(trend) / _TEMPO_PERCENT
        found.append((weight, fact("listening.tempo", percent=trend)))
    count = sum(late is not None for late in rhythm.late_ms)
    whole = Timing("", rhythm.mean_ms, rhythm.spread_ms, rhythm.spread_ms / count**0.5, count)
    common_ms = 0.0
    if rhythm.clicks and _shows(whole, noticed):
        common_ms = rhythm.mean_ms
        found.append((abs(common_ms) / noticed, fact("listening.clicks", ms=common_ms)))
    kinds = [
        one
        for one in rhythm.beats
        if _shows(one, noticed) and _shows(replace(one, mean_ms=one.mean_ms - common_ms), noticed)
    ]
    if kinds:
        worst = max(kinds, key=lambda one: abs(one.mean_ms - common_ms))
        told = fact("listening.beat", beat=worst.name, ms=worst.mean_ms, count=worst.notes)
        found.append((abs(worst.mean_ms - common_ms) / noticed, told))
    if rhythm.spread_ms >= _UNEVEN * noticed:
        found.append((rhythm.spread_ms / noticed / _UNEVEN,
                      fact("listening.uneven", ms=rhythm.spread_ms)))  # fmt: skip
    return found


def _shows(timing: Timing, noticed: float) -> bool:
    sure = abs(timing.mean_ms) > _SURE * max(timing.se_ms, 1.0)
    return timing.notes >= _LEAST_OF_KIND and sure and abs(timing.mean_ms) >= noticed


def _of_attacks(asked: Asked) -> _Ranked:
    if asked.trust.of("attacks") == "not":
        return []
    kinds = [attack.kind for attack in asked.attacks if attack.kind is not None]
    if not kinds:
        return []
    found: _Ranked = []
    cracked, late = kinds.count("cracked"), kinds.count("late")
    if cracked >= 2 and cracked >= _CRACKED_SHARE * len(kinds):
        weight = 1.0 + cracked / len(kinds) / _CRACKED_SHARE / 2.0
        found.append((weight, fact("listening.cracked", count=cracked, total=len(kinds))))
    if late >= 3 and late >= _LATE_SHARE * len(kinds):
        weight = 0.5 + late / len(kinds) / _LATE_SHARE / 2.0
        found.append((weight, fact("listening.late", count=late, total=len(kinds))))
    return found


def _of_slurs(asked: Asked) -> _Ranked:
    slurs = asked.slurs
    if len(slurs) < _LEAST_SLURS or asked.trust.of("slurs") == "not":
        return []
    found: _Ranked = []
    for kind, values, least in (
        ("listening.slur_dip", [one.dip_db for one in slurs], _SLUR_DIP_DB),
        ("listening.slur_smear", [one.smear_cents or 0.0 for one in slurs], _SMEAR_CENTS),
    ):
        shown = [value for value in values if value >= least]
        if len(shown) >= _LEAST_SLURS and len(shown) >= _SLUR_SHARE * len(slurs):
            middle = median(shown)
            told = fact(kind, size=middle, count=len(shown), total=len(slurs))
            if kind == "listening.slur_dip" and middle >= STOPPED_DB:
                # How far silence lies below the tone is a matter of the room.
                told = fact("listening.slur_stops", count=len(shown), total=len(slurs))
                middle = STOPPED_DB
            found.append((middle / least * (0.5 + len(shown) / len(slurs)), told))
    return found


def _of_steadiness(asked: Asked) -> _Ranked:
    if len(asked.steady) < _LEAST_LONG or asked.trust.of("steadiness") == "not":
        return []
    found: _Ranked = []
    cents = median(one.pitch_sd_cents for one in asked.steady)
    level = median(one.level_sd_db for one in asked.steady)
    count = len(asked.steady)
    if cents >= _PITCH_CENTS:
        told = fact("listening.pitch_wanders", cents=cents, count=count)
        found.append((cents / _PITCH_CENTS, told))
    if level >= _LEVEL_DB:
        found.append((level / _LEVEL_DB, fact("listening.level_wanders", db=level, count=count)))
    return found


def _of_dynamics(asked: Asked) -> _Ranked:
    if asked.trust.of("loudness") == "not":
        return []
    found: _Ranked = []
    for one in asked.contrasts:
        if told_apart(one):
            continue
        told = fact("listening.dynamics", soft=one.soft, loud=one.loud, db=one.difference_db)
        found.append((1.2 + 2.0 * max(0.0, _TOLD_SHARE - one.share), told))
    # One such pair stands for all.
    return sorted(found, key=lambda pair: -pair[0])[:1]


def told_apart(contrast: Contrast) -> bool:
    """Whether a listener could tell two written dynamics apart."""
    return contrast.share >= _TOLD_SHARE and contrast.difference_db >= _TOLD_DB


def _of_drone(asked: Asked) -> _Ranked:
    off = asked.just_cents
    if len(off) < _LEAST_AGAINST or asked.trust.of("pitch") == "not":
        return []
    middle = median(abs(one) for one in off)
    if middle < _JUST_CENTS:
        return []
    return [(middle / _JUST_CENTS, fact("listening.drone", cents=middle, count=len(off)))]
