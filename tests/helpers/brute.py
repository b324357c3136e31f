"""The stated effort of a route, and the best route, the slow way.

Written from what the documents state (the effort page of the manual, the comments of the profile's
weights), one note at a time in plain Python, and sharing no arithmetic with the program: it knows
the program's Place, Profile and Line only as rows of numbers. The best route is found by trying all
of them.
"""

import itertools
import math

# Points of a glissando over two partials: so many that a sum shows how many there are.
FORBIDDEN = 1e12


# Valves that stand behind another one on the horns of these tests.
LATER_VALVES = {"Gb", "D"}


def place_effort(profile, place, length_s):
    """Points for standing in a place for a note of ``length_s`` seconds."""
    hold = min(1.0, max(profile.hold_least, length_s / profile.hold_s))
    points = hold * profile.far_per_m2 * place.extension_m**2
    points += hold * profile.alternate * place.alternate
    whole = math.floor(place.position + 0.5)
    beyond = abs(place.position - whole) - 0.2
    if beyond > 0:
        points += profile.between * beyond / 0.3
    points += profile.lip_per_cent * place.lip_cents
    points += profile.valve_colour * len(place.valves)
    points += profile.second_valve * len(LATER_VALVES & set(place.valves))
    if place.valves and place.partial > 3:
        points += profile.valve_high * (place.partial - 3)
    if place.valves and place.partial == 1:
        points += profile.valve_pedal
    return points + profile.partials.get(place.partial, 0.0)


def move_time(profile, onset, length, next_onset, slurred):
    """Seconds that a move has: the rest, and a share of the note that it leaves."""
    gap = next_onset - onset
    sounding = min(length, gap)
    rest = gap - sounding
    share = max(profile.move_share * sounding, min(sounding, profile.move_quick_s))
    time = rest + min(share, profile.move_longest_s)
    if slurred:
        time = min(time, profile.slur_move_s)
    return max(time, 0.06)


def remembered(profile, onset, length, next_onset):
    """How much of its direction the arm remembers over the rest: 1 all, 0 nothing."""
    gap = next_onset - onset
    rest = gap - min(length, gap)
    return max(0.0, 1.0 - rest / profile.reset_s)


def move_effort(profile, before, after, time, remember, slurred, rise):
    """Points for a move between two places in ``time`` seconds; ``rise`` in semitones."""
    way = after.extension_m - before.extension_m
    d = abs(way)
    # A minimum-jerk move: position 10t³ - 15t⁴ + 6t⁵ of the way.
    speed = 15.0 / 8.0 * d / time
    acceleration = 10.0 / math.sqrt(3.0) * d / time**2
    points = profile.distance_per_m * d
    points += profile.speed_per_m2_s2 * speed**2
    points += profile.jolt_per_m2_s4 * acceleration**2
    fingers = len(set(before.valves) ^ set(after.valves))
    points += fingers * profile.valve_move * (1.0 + profile.valve_hurry_s / time)
    if after.alternate > 0 and d > 0.02:
        search = 1.0 if after.alternate < 3 else 1.6
        points += search * profile.seek * max(0.5, remember)
    if slurred and d > 0.01:
        if before.partial == after.partial and fingers == 0:
            points += profile.smear + profile.smear_per_m * d
        elif (way < 0 and rise > 0) or (way > 0 and rise < 0):
            points += profile.slur_with_pitch
    if rise == 0 and (d > 0.005 or fingers > 0 or before.partial != after.partial):
        points += profile.moved_repeat * remember
    return points


def turn_effort(profile, x0, x1, x2, gap_s, remember):
    """Points for the turn about the middle note; ``gap_s`` from its onset to the next one's."""
    first, second = x1 - x0, x2 - x1
    if first * second >= 0:
        return 0.0
    ready = min(1.0, abs(first) / profile.turn_ready_m)
    quick = profile.turn_time_s / max(gap_s, 0.1)
    return profile.turn_per_m * abs(second) * ready * quick * remember


class Effort:
    """The effort of any route through ``line``, a few numbers at a time."""

    def __init__(self, profile, line):
        self.profile = profile
        self.midi = [int(m) for m in line.midi]
        self.onset = [float(t) for t in line.onset_s]
        self.length = [float(t) for t in line.length_s]
        self.slur = [bool(s) for s in line.slur]
        self.gliss = [bool(g) for g in line.gliss]

    def stand(self, i, place):
        points = place_effort(self.profile, place, self.length[i])
        if i == 0 and place.alternate > 0:
            search = 1.0 if place.alternate < 3 else 1.6
            points += search * self.profile.seek / 2.0
        return points

    def move(self, i, before, after):
        """From note i to the next; FORBIDDEN more where a glissando can't be."""
        other = (before.partial, before.valves) != (after.partial, after.valves)
        forbidden = FORBIDDEN if self.gliss[i] and other else 0.0
        times = self.onset[i], self.length[i], self.onset[i + 1]
        return forbidden + move_effort(
            self.profile, before, after, move_time(self.profile, *times, self.slur[i]),
            remembered(self.profile, *times), self.slur[i], self.midi[i + 1] - self.midi[i],
        )  # fmt: skip

    def turn(self, i, before, at, after):
        """About note i, which has notes on both sides."""
        remember = min(
            remembered(self.profile, self.onset[j], self.length[j], self.onset[j + 1])
            for j in (i - 1, i)
        )
        return turn_effort(
            self.profile, before.extension_m, at.extension_m, after.extension_m,
            self.onset[i + 1] - self.onset[i], remember,
        )  # fmt: skip

    def of_route(self, places):
        """Points of a whole route."""
        points = sum(self.stand(i, place) for i, place in enumerate(places))
        points += sum(self.move(i, a, b) for i, (a, b) in enumerate(itertools.pairwise(places)))
        triples = zip(places, places[1:], places[2:])
        return points + sum(self.turn(i, *three) for i, three in enumerate(triples, 1))


class BruteForce:
    """Best effort over all routes, and over all routes through each place of each note.

    ``choices[i]`` are the places open to note i; ``ties`` gives each note's written note: notes
    with the same number must have the same place.
    """

    def __init__(self, profile, line, choices, ties=None):
        effort = Effort(profile, line)
        count = len(choices)
        stand = [[effort.stand(i, p) for p in row] for i, row in enumerate(choices)]
        move = [
            [[effort.move(i, p, q) for q in choices[i + 1]] for p in choices[i]]
            for i in range(count - 1)
        ]
        turn = [
            [
                [[effort.turn(i, p, q, r) for r in choices[i + 1]] for q in choices[i]]
                for p in choices[i - 1]
            ]
            for i in range(1, count - 1)
        ]
        self.best = math.inf
        self.through = [[math.inf] * len(row) for row in choices]
        for route in itertools.product(*(range(len(row)) for row in choices)):
            if ties is not None:
                places = (row[k] for row, k in zip(choices, route))
                if len(set(zip(ties, places))) != len(set(ties)):
                    continue
            total = 0.0
            for i, k in enumerate(route):
                total += stand[i][k]
            for i in range(count - 1):
                total += move[i][route[i]][route[i + 1]]
            for i in range(count - 2):
                total += turn[i][route[i]][route[i + 1]][route[i + 2]]
            self.best = min(self.best, total)
            for i, k in enumerate(route):
                if total < self.through[i][k]:
                    self.through[i][k] = total
