"""Intervals in the language of the page."""

from handslide.faces.web.texts import Texts

INTERVALS = ("m2", "M2", "m3", "M3", "P4", "d5", "P5", "m6", "M6", "m7", "M7", "P8", "P12", "P15")
"""Those to choose from."""


def interval_words(t: Texts, name: str) -> str:
    """An interval in the language of the page: ``P12`` is an octave and a fifth."""
    quality, number = name[: -len(name.lstrip("PMmAd"))], name.lstrip("PMmAd")
    if not number.isdecimal() or int(number) < 1:
        return name
    octaves, rest = divmod(int(number) - 1, 7)
    if int(number) <= 8:
        return t.get(f"practice.interval.{name}", name)
    if rest == 0:
        return t("practice.interval.octaves", count=octaves)
    within = t.get(f"practice.interval.{quality}{rest + 1}", f"{quality}{rest + 1}")
    return t("practice.interval.beyond", count=octaves, within=within)
