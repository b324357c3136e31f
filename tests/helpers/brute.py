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
    lasting = min(max(0.0, length_s / profile.hold_s - 1.0), max(0.0, profile.hold_most - 1.0))
    points += lasting * profile.held_alternate * place.alternate
    if place.partial in (11, 13) or (place.partial == 7 and place.alternate > 0):
        points += (1.0 + lasting) * profile.odd_partial
    if place.extension_m < 0.01:
        points += lasting * profile.vibrato
    if place.spared:
        points += profile.valve_far if place.valves else profile.seventh
    whole = math.floor(place.position + 0.5)
    beyond = abs(place.position - whole) - 0.2
    if beyond > 0:
        points += profile.between * beyond / 0.3
    points += profile.lip_per_cent * place.lip_cents
    if place.valves and place.alternate > 5:
        points += profile.valve_home
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
    pressed = set(after.valves) - set(before.valves)
    if pressed and set(before.valves) - set(after.valves):
        points += profile.valve_swap
    if d > 0.02 or pressed:
        points += search(profile, after)
    if slurred and d > 0.01:
        if before.partial == after.partial and fingers == 0:
            points += profile.smear + profile.smear_per_m * d
        elif (way < 0 and rise > 0) or (way > 0 and rise < 0):
            points += profile.slur_with_pitch
    if rise == 0 and (d > 0.005 or fingers > 0 or before.partial != after.partial):
        points += profile.moved_repeat * remember
    return points


def search(profile, place):
    """Points for looking for a place, and for going out to a 7th that could be left alone."""
    points = 4.0 * profile.seventh if place.spared and not place.valves else 0.0
    return points + alternate_search(profile, place)


def alternate_search(profile, place):
    """Points for looking for an alternate."""
    if place.alternate == 0:
        return 0.0
    return profile.seek * (1.0 if place.alternate < 3 else 1.6)


def begin(profile, place, length_s):
    """Points for beginning a line in a place."""
    points = 0.4 * alternate_search(profile, place)
    if place.spared and not place.valves:
        points += 6.0 * profile.seventh * max(0.0, 1.0 - length_s / 0.55)
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
        return points + (begin(self.profile, place, self.length[0]) if i == 0 else 0.0)

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
        points = turn_effort(
            self.profile, before.extension_m, at.extension_m, after.extension_m,
            self.onset[i + 1] - self.onset[i], remember,
        )  # fmt: skip
        if self.midi[i - 1] == self.midi[i + 1] != self.midi[i] and before != after:
            points += self.profile.wander * remember
        return points

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


class Settled:
    """The settled route of a short line, from the rule as it is written down, over all routes."""

    def __init__(self, profile, line, choices):
        self.profile, self.line, self.choices = profile, line, choices
        self.effort = Effort(profile, line)
        routes = itertools.product(*(range(len(row)) for row in choices))
        self.routes = [(self.total(route), route) for route in routes]
        self.first = self.best({})
        if profile.one_place > 0:
            self.route = self.kept_to_one_place()
        else:
            self.route = self.settled()

    def total(self, route):
        return self.effort.of_route([row[k] for row, k in zip(self.choices, route)])

    def best(self, held):
        """(total, route): the best one that has the choices of ``held``."""
        fitting = (r for r in self.routes if all(r[1][i] == k for i, k in held.items()))
        return min(fitting, key=lambda r: r[0])

    def usual(self, i):
        """The place that costs least alone and as long as ``hold_s``."""
        row = self.choices[i]
        return min(
            range(len(row)), key=lambda k: place_effort(self.profile, row[k], self.profile.hold_s)
        )

    def sign(self, i):
        """What a note is in a figure."""
        onsets = self.effort.onset
        last = i == len(onsets) - 1
        gap = self.effort.length[i] if last else onsets[i + 1] - onsets[i]
        return self.effort.midi[i], self.effort.slur[i], round(gap * 1000)

    def source(self, i):
        """Where the longest figure about a note came first: the same note there; else None."""
        signs = [self.sign(j) for j in range(len(self.choices))]
        for length in (12, 6, 3):
            for start in range(max(0, i - length + 1), min(i, len(signs) - length) + 1):
                for earlier in range(start):
                    if signs[earlier : earlier + length] == signs[start : start + length]:
                        return earlier + i - start
        return None

    def home(self, i, now):
        place = self.choices[i][now]
        plain = place.alternate == 0 and not place.spared
        return now if plain or self.effort.length[i] < 0.2 else self.usual(i)

    def groups(self):
        """Notes that are the same note of a figure, by way of their first ones."""
        groups = {}
        root = []
        for i in range(len(self.choices)):
            source = self.source(i)
            root.append(i if source is None else root[source])
            groups.setdefault(root[i], []).append(i)
        return list(groups.values())

    def settled(self):
        count = len(self.choices)
        held, (total, route) = {}, self.first
        open_ = set(range(count))
        self.figures = self.groups()
        for _ in range(3):
            new = {}
            beside = {}
            for notes in sorted(self.figures, key=len, reverse=True):
                waits = any(beside.get(i, 0) > len(notes) for i in notes)
                if waits or not open_ & set(notes):
                    continue
                moves = self.together(notes, held, total, route)
                new |= moves
                for i in moves:
                    for j in range(i - 2, i + 3):
                        beside[j] = max(len(notes), beside.get(j, 0))
            alone = not held
            while new:
                kept = self.within(held, new, alone)
                if kept == new:
                    break
                new, alone = kept, False
            if not new:
                break
            before, held = route, {**held, **new}
            total, route = self.best(held)
            moved = [i for i in range(count) if route[i] != before[i]]
            near = {i for i in range(count) if any(abs(i - j) <= 3 for j in moved)}
            open_ = near - set(held)
        return route

    def together(self, notes, held, total, route):
        """Where the notes of one group go, those that move."""
        away = any(self.home(i, route[i]) != route[i] for i in notes)
        home = self.usual(notes[0])
        ways = {route[i]: None for i in notes} | ({home: None} if away else {})
        if len(ways) == 1:
            return {}
        most = 3.0 if len(notes) > 1 else 0.7
        costs = {k: [self.costs(held, i, k, total) for i in notes] for k in ways}
        lying = [route[i] for i in notes]
        open_ways = [
            k for k, row in costs.items()
            if all(cost <= most for cost in row) or lying.count(k) > len(notes) / 2
        ]  # fmt: skip
        if not open_ways:
            return {}
        sums = {k: sum(min(most, cost) for cost in costs[k]) for k in open_ways}
        take = min(sums, key=sums.get)
        if away and home in sums and sums[home] <= sums[take] + 0.7 * len(notes):
            take = home
        allowed = (i for i, cost in zip(notes, costs[take]) if cost <= most)
        return {i: take for i in allowed if route[i] != take and i not in held}

    def costs(self, held, i, k, total):
        if held.get(i, k) != k:
            return math.inf
        return self.best({**held, i: k})[0] - total

    def within(self, held, new, alone):
        """The new places of those stretches that cost a near tie at most, or what a figure may."""
        total, trial = self.best({**held, **new})
        if total - self.first[0] <= 0.7:
            return new
        differs = [i for i, (a, b) in enumerate(zip(self.first[1], trial)) if a != b]
        stretches = []
        for i in differs:
            if stretches and i - stretches[-1][-1] < 3:
                stretches[-1].append(i)
            else:
                stretches.append([i])
        kept = dict(new)
        for stretch in stretches:
            route = list(self.first[1])
            route[stretch[0] : stretch[-1] + 1] = trial[stretch[0] : stretch[-1] + 1]
            again = {i for notes in self.figures if len(notes) > 1 for i in notes}
            follows = again & {*held, *new}
            figure = any(stretch[0] - 3 < i < stretch[-1] + 3 for i in follows)
            if self.total(route) - self.first[0] <= (3.0 if figure else 0.7):
                continue
            inside = sorted(i for i in new if stretch[0] - 3 < i < stretch[-1] + 3)
            for i in inside[1:] if alone else inside:
                kept.pop(i, None)
        return kept

    def kept_to_one_place(self):
        count = len(self.choices)
        held, (total, route) = {}, self.first
        for _ in range(3):
            new = {}
            worse = [
                [min(max(0.0, self.best({**held, i: k})[0] - total), 1e4) for k in range(len(row))]
                for i, row in enumerate(self.choices)
            ]
            for midi in set(self.effort.midi):
                notes = [i for i in range(count) if self.effort.midi[i] == midi]
                sums = [sum(column) for column in zip(*(worse[i] for i in notes))]
                best, home = sums.index(min(sums)), self.usual(notes[0])
                if sums[home] <= sums[best] + self.profile.one_place * len(notes):
                    best = home
                new |= {i: best for i in notes if worse[i][best] < 1e4 and route[i] != best}
            new = {i: k for i, k in new.items() if i not in held}
            if not new:
                break
            held |= new
            total, route = self.best(held)
        return route
