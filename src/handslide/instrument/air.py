"""Speed of sound in the air inside the horn.

Conventions: temperature in °C, pressure in Pa, relative humidity and CO2 as fractions (0.5 = 50 %).
Both formulas refuse air outside the range for which their source states them.
"""

import math
from dataclasses import dataclass

from handslide.ground.errors import AirError
from handslide.ground.units import KELVIN_AT_0_C

# Cramer (1993), table of coefficients a0 to a15 for the speed of sound; also IEC 61094-2:2009,
# table F.2.
_A = (
    331.5024, 0.603055, -0.000528, 51.471935, 0.1495874, -0.000782, -1.82e-7, 3.73e-8,
    -2.93e-10, -85.20931, -0.228525, 5.91e-5, -2.835149, -2.15e-13, 29.179762, 0.000486,
)  # fmt: skip
_CRAMER_TEMP_C = (0.0, 30.0)
_CRAMER_PRESSURE_PA = (75_000.0, 102_000.0)
_CRAMER_WATER_MAX = 0.06
_CRAMER_CO2_MAX = 0.01
_ISO_TEMP_C = (-20.0, 50.0)


@dataclass(frozen=True, slots=True)
class Air:
    """Air inside a horn that is being played.

    ``temp_c`` in °C, ``humidity`` and ``co2`` as fractions, ``pressure_pa`` in Pa. The default,
    25 °C and half-saturated, is the one that every sheet states.
    """

    temp_c: float = 25.0
    humidity: float = 0.5
    pressure_pa: float = 101_325.0
    co2: float = 0.0004

    @property
    def speed_m_s(self) -> float:
        """Speed of sound in m/s after Cramer. Raises AirError outside its range."""
        return speed_of_sound_cramer(self)


def water_mole_fraction(air: Air) -> float:
    """Mole fraction of water vapour: humidity · enhancement · saturation pressure / pressure.

    Saturation pressure and enhancement factor as in Cramer (1993), appendix (after Giacomo 1982).
    """
    t, p = air.temp_c, air.pressure_pa
    kelvin = t + KELVIN_AT_0_C
    saturation_pa = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    return air.humidity * enhancement * saturation_pa / p


def speed_of_sound_cramer(air: Air) -> float:
    """Speed of sound in m/s.

    O. Cramer, J. Acoust. Soc. Am. 93 (1993) 2510-2516, eq. (15). Stated for 0 to 30 °C,
    75 to 102 kPa, water vapour up to 0.06 and CO2 up to 0.01 of the molecules.

    Raises
    ------
    AirError
        Outside that range.
    """
    _check_temperature(air.temp_c, *_CRAMER_TEMP_C)
    _check("air.humidity", air.humidity, 0.0, 1.0)
    _check("air.pressure", air.pressure_pa, *_CRAMER_PRESSURE_PA)
    _check("air.co2", air.co2, 0.0, _CRAMER_CO2_MAX)
    t, p, xc = air.temp_c, air.pressure_pa, air.co2
    xw = water_mole_fraction(air)
    _check("air.water", xw, 0.0, _CRAMER_WATER_MAX)
    a = _A
    return (
        a[0] + a[1] * t + a[2] * t**2
        + (a[3] + a[4] * t + a[5] * t**2) * xw
        + (a[6] + a[7] * t + a[8] * t**2) * p
        + (a[9] + a[10] * t + a[11] * t**2) * xc
        + a[12] * xw**2 + a[13] * p**2 + a[14] * xc**2 + a[15] * xw * p * xc
    )  # fmt: skip


def speed_of_sound_iso(temp_c: float) -> float:
    """Speed of sound in m/s, 343.2·√(T/293.15 K).

    ISO 9613-1:1993, eq. (A.5). Stated for -20 to 50 °C.

    Raises
    ------
    AirError
        Outside that range.
    """
    _check_temperature(temp_c, *_ISO_TEMP_C)
    return 343.2 * math.sqrt((temp_c + KELVIN_AT_0_C) / 293.15)


def _check_temperature(temp_c: float, low: float, high: float) -> None:
    fahrenheit = not low <= temp_c <= high and 32 < temp_c < 120
    _check("air.fahrenheit" if fahrenheit else "air.temperature", temp_c, low, high)


def _check(kind: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise AirError(kind, value=value, low=low, high=high)
