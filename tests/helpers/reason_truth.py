"""Whether a printed reason is true, from the numbers alone.

It shares no arithmetic with the program: extensions, positions and lipping come from the playing
model as the documents state it, times of moves from `brute`. Both whole routes are given.
"""

import re
from itertools import pairwise

import numpy as np
from brute import move_time

_SPOT_M = 0.005
_STILL_M = 0.02
_SMEAR_M = 0.01


class Route:
    """Places of a line, worked out anew from valves and partials alone."""

    def __init__(self, horn, midi, places):
        assert not horn.deviations
        self.valves = [frozenset(place.valves) for place in places]
        self.partial = [place.partial for place in places]
        self.x, self.lip, self.position = [], [], []
        loops = {valve.name: valve.loop_m for valve in horn.valves}
        for number, valves, partial in zip(midi, self.valves, self.partial):
            hz = horn.a4_hz * 2.0 ** ((number - 69) / 12.0)
            tube = horn.length_m + sum(loops[name] for name in valves)
            x = (partial * horn.speed_m_s / (2.0 * hz) - tube) / 2.0
            closed_hz = partial * horn.speed_m_s / (2.0 * tube)
            self.lip.append(1200.0 * np.log2(hz / closed_hz) if x < 0.0 else 0.0)
            self.x.append(max(x, 0.0))
            self.position.append(1.0 + 12.0 * np.log2(1.0 + 2.0 * self.x[-1] / horn.length_m))

    def step(self, move):
        return self.x[move + 1] - self.x[move]

    def way(self):
        return sum(abs(b - a) for a, b in pairwise(self.x))

    def same(self, one, other):
        apart = abs(self.x[one] - self.x[other])
        valves = self.valves[one] == self.valves[other]
        return valves and self.partial[one] == self.partial[other] and apart <= _SPOT_M

    def changes(self, note):
        rows = self.valves[max(0, note - 1) : note + 2]
        return sum(len(a ^ b) for a, b in pairwise(rows))

    def off(self, note):
        nearest = min(round(self.position[note]), 7)
        return abs(self.position[note] - nearest)


def lies(horn, profile, line, ours, theirs, note, reason, usual=None):
    """What is not true of a reason: sentences for the test's reader, none if all of it is true.

    ``ours`` and ``theirs`` are the places of both whole routes; ``reason`` is about ``note``;
    ``usual`` is its plain place.
    """
    midi = line.midi.tolist()
    we, they = Route(horn, midi, ours), Route(horn, midi, theirs)
    check = _Check(ours, theirs, profile, line, midi, we, they, note, reason, usual, horn)
    claims = _CLAIMS[reason.kind](check)
    return [f"{reason.kind}: {what}" for what, true in claims.items() if not true]


class _Check:
    def __init__(self, ours, theirs, profile, line, midi, we, they, note, reason, usual, horn):
        self.ours, self.theirs = ours, theirs
        self.profile, self.line, self.midi, self.usual = profile, line, midi, usual
        self.we, self.they, self.note, self.reason, self.horn = we, they, note, reason, horn

    def move(self, move, neighbour):
        """The numbers that a sentence about a move names are those of the two routes."""
        we, they, told = self.we, self.they, self.reason
        line = self.line
        time = move_time(
            self.profile, line.onset_s[move], line.length_s[move], line.onset_s[move + 1],
            bool(line.slur[move]),
        )  # fmt: skip
        speed = 1.875 * abs(they.step(move)) / time
        named = told.rival_speed_m_s
        return {
            "our way": abs(told.way_m - we.step(move)) < 1e-6,
            "the rival's way": abs(told.rival_way_m - they.step(move)) < 1e-6,
            "its speed": (named is None) == (speed <= 2.0)
            and (named is None or abs(named - speed) < 1e-6 * speed),
            "the neighbour": told.neighbour.midi == self.midi[neighbour],
            "our neighbour's place": told.neighbour_place.partial == we.partial[neighbour]
            and set(told.neighbour_place.valves) == we.valves[neighbour],
            "the rival's neighbour's place": abs(
                told.rival_neighbour_place.extension_m - they.x[neighbour]
            ) < 1e-6,
        }  # fmt: skip

    def longer(self, move):
        ours, theirs = abs(self.we.step(move)), abs(self.they.step(move))
        return {"it is longer": theirs > ours + 0.029 and theirs > 1.29 * ours}

    def turns(self, about):
        """The slide goes through a note on our route and turns about it on the rival's."""
        (we, they) = self.we, self.they
        return {
            "we go on": we.step(about - 1) * we.step(about) > 0,
            "they turn": they.step(about - 1) * they.step(about) < 0
            and min(abs(they.step(about - 1)), abs(they.step(about))) >= _STILL_M,
        }

    def slurred(self):
        moves = [m for m in (self.note - 1, self.note) if 0 <= m < len(self.midi) - 1]
        return [move for move in moves if self.line.slur[move]]


def _moving(sign):
    def claims(check):
        n = check.note
        return {
            **check.turns(n - 1),
            **check.move(n - 1, n - 1),
            "we move already": sign * check.we.step(n - 2) >= _STILL_M,
            "they do too": sign * check.they.step(n - 2) >= _STILL_M,
        }

    return claims


def _on_the_way(check):
    n = check.note
    onward = {"the next note": check.reason.onward.midi == check.midi[n + 1]}
    return {**check.turns(n), **check.move(n, n - 1), **onward}


def _leads_on(check):
    return {**check.turns(check.note + 1), **check.move(check.note + 1, check.note + 1)}


def _near(offset, *, still):
    def claims(check):
        move = check.note - 1 + offset
        rests = abs(check.we.step(move)) < _STILL_M
        return {
            **check.move(move, move if offset == 0 else move + 1),
            **check.longer(move),
            "we stay": rests == still,
        }

    return claims


def _moves_less(check):
    more = check.they.way() - check.we.way()
    told = check.reason.rival_way_m - check.reason.way_m
    return {"they move more": more > 0.029, "by so much": abs(more - told) < 1e-6}


def _smears(check):
    def smear(route, move):
        same = route.partial[move] == route.partial[move + 1]
        valves = route.valves[move] == route.valves[move + 1]
        return same and valves and abs(route.step(move)) > _SMEAR_M

    moves = check.slurred()
    true = any(smear(check.they, m) and not smear(check.we, m) for m in moves)
    return {"they smear and we don't": true}


def _natural(check):
    def along(route, move):
        rise = check.midi[move + 1] - check.midi[move]
        return rise * route.step(move) < 0 and abs(route.step(move)) > _SMEAR_M

    def ours(move):
        return check.we.partial[move] != check.we.partial[move + 1] and not along(check.we, move)

    true = any(ours(move) and along(check.they, move) for move in check.slurred())
    return {"our slur changes the partial, theirs goes along": true}


def _kept(*offsets):
    def claims(check):
        n, midi = check.note, check.midi
        others = [n + k for k in offsets if 0 <= n + k < len(midi) and midi[n + k] == midi[n]]
        true = any(check.we.same(n, k) and not check.they.same(n, k) for k in others)
        return {"the same note has this place": true}

    return claims


def _flat(check):
    n = check.note
    told = round(check.reason.rival.lip_cents)
    return {
        "theirs is flatter": check.they.lip[n] > check.we.lip[n] + 2.9,
        "by so much": abs(check.they.lip[n] - told) <= 0.5 + 1e-6,
    }


def _looked_for(check):
    rival, place = check.reason.rival, check.reason.place
    return {
        "the usual place isn't looked for": rival != check.usual,
        "it is an alternate": rival.alternate > 0,
        "and more so than ours": rival.alternate > place.alternate,
    }


def _glissando(check):
    """No place of a note that it glides to or from, on through all of them, goes with the rival."""
    n, gliss = check.note, check.line.gliss
    low, high = n, n
    while low > 0 and gliss[low - 1]:
        low -= 1
    while high < len(check.midi) - 1 and gliss[high]:
        high += 1
    loops = {valve.name: valve.loop_m for valve in check.horn.valves}
    rival = check.reason.rival
    tube = check.horn.length_m + sum(loops[name] for name in rival.valves)
    reached = []
    for note in range(low, high + 1):
        hz = check.horn.a4_hz * 2.0 ** ((check.midi[note] - 69) / 12.0)
        x = (rival.partial * check.horn.speed_m_s / (2.0 * hz) - tube) / 2.0
        flat = 1200.0 * np.log2(2.0 * tube * hz / (rival.partial * check.horn.speed_m_s))
        reached.append(x <= check.horn.travel_m and flat <= check.horn.lip_up_cents)
    return {"it glides": high > low, "it breaks": not all(reached)}


def _valves(check, *, none):
    n = check.note
    ours, theirs = check.we.changes(n), check.they.changes(n)
    return {
        "other valves": check.we.valves[n] != check.they.valves[n],
        "fewer moves": ours < theirs,
        "none": (ours == 0) == none,
        "so many": check.reason.more == theirs - ours,
    }


def _first_valve(check):
    first = {check.horn.valves[0].name}
    ours, theirs = check.we.valves[check.note], check.they.valves[check.note]
    return {"ours is the first": ours == first, "theirs has another": bool(theirs - first)}


def _high(check):
    we, they, n = check.we, check.they, check.note
    higher = not we.valves[n] or we.partial[n] < they.partial[n]
    return {"high with a valve": bool(they.valves[n]) and they.partial[n] > 3 and higher}


def _pedal(check):
    we, they, n = check.we, check.they, check.note
    ours = bool(we.valves[n]) and we.partial[n] == 1
    return {"a pedal with a valve": bool(they.valves[n]) and they.partial[n] == 1 and not ours}


def _unsure(check):
    points = dict(check.profile.partials)
    ours, theirs = (route.partial[check.note] for route in (check.we, check.they))
    return {"the partial is dearer": points.get(theirs, 0.0) > points.get(ours, 0.0)}


def _between(check):
    n = check.note
    return {"ours is whole": check.we.off(n) <= 0.2, "theirs isn't": check.they.off(n) > 0.2}


def _freer(check):
    ours, theirs = check.we.valves[check.note], check.they.valves[check.note]
    return {"ours is open": not ours, "theirs has a valve": bool(theirs)}


def _fewer(check):
    ours, theirs = check.we.valves[check.note], check.they.valves[check.note]
    return {"we have a valve": bool(ours), "they have more": len(theirs) > len(ours)}


def _neighbour_worse(check):
    told, n = check.reason, check.note

    def true_of(beside):
        if not 0 <= beside < len(check.midi) or told.neighbour.midi != check.midi[beside]:
            return False
        here, there = check.ours[beside], check.theirs[beside]
        worse = there.alternate - here.alternate, len(there.valves) - len(here.valves)
        return told.rival_neighbour_place == there and min(worse) >= 0 and max(worse) > 0

    return {"the neighbour lies there, less plainly": true_of(n - 1) or true_of(n + 1)}


def _further(check):
    ours, theirs, told = check.we.x[check.note], check.they.x[check.note], check.reason
    more = told.rival_way_m - told.way_m
    return {"further": theirs > ours + 0.029, "so far": abs(theirs - ours - more) < 1e-6}


def _elsewhere(check, true_of):
    """Somewhere on the told side of the note, and with the told numbers, this holds."""
    n, told, count = check.note, check.reason, len(check.midi)
    side = range(n, count - 1) if told.later else range(n)
    return any(
        told.neighbour.midi == check.midi[k] and true_of(k) for k in side if 0 <= k < count - 1
    )


def _told_move(check, move):
    onward = check.reason.onward.midi == check.midi[move + 1]
    return onward and all(check.move(move, move).values())


def _goes(check):
    def true_of(move):
        return _told_move(check, move) and all(check.longer(move).values())

    return {"a longer way there": _elsewhere(check, true_of)}


def _turns_there(check):
    def true_of(note):
        on = 0 < note != check.note and all(check.turns(note).values())
        return on and _told_move(check, note)

    return {"a turn there": _elsewhere(check, true_of)}


def _presses(check):
    def true_of(move):
        we, they = (len(r.valves[move] ^ r.valves[move + 1]) for r in (check.we, check.they))
        return we == 0 < they and _told_move(check, move)

    return {"a valve moves there": _elsewhere(check, true_of)}


def _puts(check):
    n, told = check.note, check.reason

    def true_of(note):
        here, there = check.ours[note], check.theirs[note]
        worse = there.alternate - here.alternate, len(there.valves) - len(here.valves)
        further = check.they.x[note] > check.we.x[note] + 0.029
        same = told.neighbour.midi == check.midi[note] and told.rival_neighbour_place == there
        return same and min(worse) >= 0 and (max(worse) > 0 or further)

    side = range(n + 1, len(check.midi)) if told.later else range(n)
    return {"a note lies there less plainly or further out": any(map(true_of, side))}


def _shakes(check):
    n, profile = check.note, check.profile
    return {
        "theirs is closed": check.they.x[n] < 0.01,
        "ours isn't": check.we.x[n] >= 0.01,
        "the note is held": check.line.length_s[n] > profile.hold_s and profile.vibrato > 0.0,
    }


_CLAIMS = {
    "moving_out": _moving(1), "moving_in": _moving(-1), "on_the_way": _on_the_way,
    "leads_on": _leads_on, "stays": _near(0, still=True), "nearer": _near(0, still=False),
    "can_stay": _near(1, still=True), "next_nearer": _near(1, still=False),
    "moves_less": _moves_less, "smears": _smears, "natural_slur": _natural,
    "repeated": _kept(-1, 1), "returns": _kept(-2, 2), "flat": _flat, "between": _between,
    "unsure": _unsure, "looked_for": _looked_for, "freer": _freer, "fewer_valves": _fewer,
    "high_with_valve": _high, "pedal_with_valve": _pedal, "first_valve": _first_valve,
    "valve_stays": lambda check: _valves(check, none=True),
    "changes_less": lambda check: _valves(check, none=False),
    "further_out": _further, "neighbour_worse": _neighbour_worse, "glissando": _glissando,
    # That these are true is in `worse_by` alone, which brute force checks.
    "locked": lambda _: {}, "would_do": lambda _: {}, "nearly": lambda _: {},
    "written": lambda _: {},
    "goes_elsewhere": _goes, "turns_elsewhere": _turns_there, "presses_elsewhere": _presses,
    "puts_elsewhere": _puts, "room_to_shake": _shakes,
    "costs_more": lambda check: {"it does": check.reason.points > 0.7},
}  # fmt: skip


def numbers_said(said):
    """The centimetres and cents of an English sentence."""
    return [int(number) for number in re.findall(r"(\d+) (?:cm|cents?)\b", said)]


def numbers_meant(reason):
    """The centimetres and cents that its reason holds, rounded."""
    near, far = (round(100.0 * abs(way)) for way in (reason.way_m, reason.rival_way_m))
    if reason.kind in ("moves_less", "further_out"):
        return [round(100.0 * (reason.rival_way_m - reason.way_m))]
    if reason.kind == "flat":
        return [round(reason.rival.lip_cents)]
    if reason.kind in ("nearer", "next_nearer"):
        return [near, far]
    if reason.kind == "goes_elsewhere":
        return [far, near]
    if reason.kind in ("neighbour_worse", "puts_elsewhere", "presses_elsewhere"):
        return []
    return [far] if reason.neighbour is not None else []
