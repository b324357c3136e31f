"""A profile, what a teacher chooses by: the weights of the effort terms, with their units.

One point of effort is about a calm move from 1st to 3rd position. The terms themselves are in
``effort``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from handslide.ground.errors import BadData


@dataclass(frozen=True, slots=True)
class Profile:
    """Named weights; each comment gives the unit. All are 0 or more.

    Raises
    ------
    BadData
        When a weight is negative or not a number.
    """

    name: str = "classical"
    title: str = ""
    distance_per_m: float = 5.0  # points per metre of slide
    speed_per_m2_s2: float = 0.15  # points per (m/s)² of peak speed
    jolt_per_m2_s4: float = 0.0001  # points per (m/s²)² of peak acceleration
    turn_per_m: float = 3.0  # points per metre turned back, at turn_time_s
    turn_time_s: float = 0.35  # a note of this length makes a turn cost as stated
    turn_ready_m: float = 0.05  # a turn counts in full after a move of this length
    reset_s: float = 1.0  # a rest of this length lets the arm forget its direction
    valve_move: float = 0.7  # points per valve pressed or released
    valve_hurry_s: float = 0.1  # valve moves cost double when there is this time for them
    valve_swap: float = 3.0  # points for releasing one valve and pressing another in one move
    far_per_m2: float = 5.0  # points per m² of extension, for each note
    seventh: float = 1.8  # points for a note in 7th where a learned valve has it near
    valve_far: float = 8.0  # points for 5th with a valve and further, where more have it near
    valve_home: float = 16.0  # points for a valve on a note that the open horn has near
    between: float = 0.25  # points for a place halfway between two positions
    lip_per_cent: float = 0.016  # points per cent of lipping
    valve_colour: float = 0.7  # points per engaged valve, for each note
    second_valve: float = 0.5  # points for each engaged valve after the horn's first
    valve_high: float = 1.5  # points for each partial above the 3rd with a valve
    valve_pedal: float = 1.5  # points for a pedal with a valve
    alternate: float = 0.3  # points for each step away from a note's plain places
    seek: float = 3.2  # points for moving the slide to an alternate
    hold_s: float = 0.7  # far out and alternates count in full for notes of this length
    hold_least: float = 0.25  # and by this share at least for short notes
    hold_most: float = 4.0  # what a held note adds, it adds up to this many times hold_s
    held_alternate: float = 2.0  # points for each step and each hold_s after the first
    odd_partial: float = 5.5  # points for each hold_s of a note on the 7th, 11th or 13th partial
    vibrato: float = 0.0  # points for each hold_s after the first of a note in closed 1st position
    wander: float = 20.0  # points for a note in another place than the next but one before it
    one_place: float = 0.0  # each pitch has one place, the plain one for so many points a note
    partials: Mapping[int, float] = field(default_factory=dict)  # points for a partial
    smear: float = 0.5  # points for a slur along one partial that moves the slide
    smear_per_m: float = 2.0  # and per metre of that move
    slur_with_pitch: float = 0.3  # points for a slur whose slide moves with the pitch
    moved_repeat: float = 2.0  # points for a repeated note that changes its place
    move_share: float = 0.5  # share of the note before that a move takes
    move_quick_s: float = 0.15  # quick notes give all of this to the move
    move_longest_s: float = 0.25  # a move takes no longer, rests aside
    slur_move_s: float = 0.12  # a slurred move takes no longer
    top_partial: int = 12  # highest partial used
    top_partial_valve: int = 6  # highest partial used with a valve

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name in ("name", "title", "partials"):
                continue
            if isinstance(value, bool) or not isinstance(value, int | float) or not value >= 0:
                raise BadData(
                    "profile.negative", profile=self.name, weight=item.name, value=repr(value)
                )
        for name in (
            "turn_time_s",
            "turn_ready_m",
            "reset_s",
            "hold_s",
            "move_quick_s",
            "slur_move_s",
        ):
            if getattr(self, name) == 0:
                raise BadData("profile.zero", profile=self.name, weight=name)
