"""How a hand moves from place to place: the smoothest way there is in the time that it has."""

from typing import Any


def minimum_jerk(share: Any) -> Any:
    """Share of the way at ``share`` of the time, from 0 to 1: a number or an array.

    10τ³ - 15τ⁴ + 6τ⁵ (Flash and Hogan, J. Neurosci. 5 (1985) 1688-1703).
    """
    return share**3 * (10.0 + share * (6.0 * share - 15.0))
