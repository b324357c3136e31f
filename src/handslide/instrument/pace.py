"""How quick a move of the slide is: easy, quick, or too quick.

No measured speeds of players are published in numbers, so the bounds are common practice: at 2 m/s
the slide goes from 1st to 4th in a quarter of a second, as in calm semiquavers; at 5 m/s it does so
in a tenth of a second, and a slide of a quarter of a kilogram asks for a force of 40 N
(5.77·d/T² = 161 m/s²), which no arm gives it neatly.
"""

EASY_M_S = 2.0
TOO_QUICK_M_S = 5.0
PACES = ("easy", "quick", "too_quick")


def pace(peak_m_s: float) -> str:
    """One of `PACES` for a peak speed in m/s."""
    if peak_m_s <= EASY_M_S:
        return "easy"
    return "quick" if peak_m_s < TOO_QUICK_M_S else "too_quick"
