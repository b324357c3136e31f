"""What a sweep over pages, windows and languages looks at: here its share of them, mixed and always
the same, so that each of them is met; all of them in `make sweep`."""

import random

from sampling import ALL

_SEED = 8471


def share_of(things, number, of):
    """Of ``things``, dealt into as many shares, one: those of all numbers are all things."""
    things = list(things)
    if ALL:
        return things
    mixed = random.Random(_SEED).sample(range(len(things)), len(things))
    return [things[i] for i in sorted(mixed[number % of :: of])]
