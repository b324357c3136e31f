"""Speed of sound against published values and against faults seen in ports of the formula.

Tolerance of table values: half of the last digit printed. 0.001 m/s is 0.005 cent.
"""

import math

import pytest

from handslide.ground.errors import AirError
from handslide.ground.units import cents
from handslide.instrument.air import (
    Air,
    speed_of_sound_cramer,
    speed_of_sound_iso,
    water_mole_fraction,
)

# ISO 9613-1:1993, eq. (A.5), worked out to the millimetre per second.
ISO = {0: 331.286, 10: 337.296, 15: 340.261, 20: 343.200, 25: 346.114, 30: 349.005, 37: 353.011}

# Cramer, JASA 93:2510-2516 (1993), eq. (15), worked out apart from this program:
# (°C, humidity) -> m/s at 101 325 Pa and 400 ppm of CO2.
CRAMER = {
    (0, 0.0): 331.4477, (15, 0.0): 340.4233, (20, 0.0): 343.3595, (20, 0.5): 343.9869,
    (20, 1.0): 344.6135, (23, 0.5): 345.8665, (25, 0.5): 347.1268, (30, 0.5): 350.3102,
    (30, 1.0): 351.4698,
}  # fmt: skip


@pytest.mark.parametrize(("temp_c", "speed"), ISO.items())
def test_iso_9613(temp_c, speed):
    assert speed_of_sound_iso(temp_c) == pytest.approx(speed, abs=0.0005)


@pytest.mark.parametrize(("state", "speed"), CRAMER.items())
def test_cramer(state, speed):
    temp_c, humidity = state
    air = Air(temp_c=temp_c, humidity=humidity)
    assert speed_of_sound_cramer(air) == pytest.approx(speed, abs=0.0005)
    assert air.speed_m_s == speed_of_sound_cramer(air)


def test_cramer_at_other_pressure_and_co2():
    # The terms in p², xc² and xw·p·xc, whose signs some public ports have wrong: there the sum of
    # their magnitudes is subtracted. Worked by hand from the coefficients of Cramer (1993).
    air = Air(temp_c=20.0, humidity=1.0, pressure_pa=75_000.0, co2=0.01)
    xw = water_mole_fraction(air)
    t, p, xc = 20.0, 75_000.0, 0.01
    by_hand = math.fsum(
        [
            331.5024, 0.603055 * t, -0.000528 * t * t,
            51.471935 * xw, 0.1495874 * t * xw, -0.000782 * t * t * xw,
            -1.82e-7 * p, 3.73e-8 * t * p, -2.93e-10 * t * t * p,
            -85.20931 * xc, -0.228525 * t * xc, 5.91e-5 * t * t * xc,
            -2.835149 * xw * xw, -2.15e-13 * p * p, 29.179762 * xc * xc, 0.000486 * xw * p * xc,
        ]
    )  # fmt: skip
    got = speed_of_sound_cramer(air)
    assert got == pytest.approx(by_hand, abs=1e-9)
    wrong_signs = by_hand - 2.0 * (29.179762 * xc * xc + 0.000486 * xw * p * xc)
    assert abs(got - wrong_signs) > 0.004


def test_humidity_multiplies_the_whole_enhancement_factor():
    # Some ports let it multiply the first term only; water must be proportional to humidity.
    half, whole = (water_mole_fraction(Air(temp_c=30.0, humidity=h)) for h in (0.5, 1.0))
    assert half == pytest.approx(whole / 2.0, rel=1e-12)
    assert water_mole_fraction(Air(humidity=0.0)) == 0.0
    # Saturation pressure at 20 °C: 2339 Pa in steam tables (from memory), within 5 Pa.
    got = water_mole_fraction(Air(temp_c=20.0, humidity=1.0)) * 101_325.0 / 1.0040
    assert got == pytest.approx(2339.0, abs=5.0)


def test_cramer_agrees_with_iso_in_dry_air():
    # Two standards, different fits: within 0.2 m/s, one cent, over Cramer's range.
    for temp_c in range(0, 31, 5):
        got = speed_of_sound_cramer(Air(temp_c=temp_c, humidity=0.0))
        assert got == pytest.approx(speed_of_sound_iso(temp_c), abs=0.2)


def test_linear_rules_of_thumb_agree_with_iso():
    # 331.3 + 0.606·t and 331.5 + 0.6·t, common practice: within 0.3 m/s (1.5 cents) up to 20 °C.
    for temp_c in range(0, 21, 5):
        iso = speed_of_sound_iso(temp_c)
        assert iso == pytest.approx(331.3 + 0.606 * temp_c, abs=0.3005)
        assert iso == pytest.approx(331.5 + 0.6 * temp_c, abs=0.3005)


@pytest.mark.parametrize(
    ("cold_c", "warm_c", "want"),
    [
        # 600·log2(T2/T1) of an ideal gas; 70 to 90 °F and 30 to 70 °F are quoted by teachers as
        # about 32 and nearly 70 cents.
        ((70 - 32) / 1.8, (90 - 32) / 1.8, 32.1),
        ((30 - 32) / 1.8, (70 - 32) / 1.8, 68.0),
        (20.0, 30.0, 29.0),
        (10.0, 30.0, 59.1),
    ],
)
def test_pitch_between_two_temperatures(cold_c, warm_c, want):
    ratio = speed_of_sound_iso(warm_c) / speed_of_sound_iso(cold_c)
    assert cents(ratio) == pytest.approx(want, abs=0.05)


@pytest.mark.parametrize(
    ("temp_c", "want"), [(0, 3.169), (15, 3.004), (20, 2.953), (25, 2.903), (30, 2.855)]
)
def test_cents_per_degree(temp_c, want):
    # 600/(ln 2·T): "about 3 cents a degree" (common practice).
    ratio = speed_of_sound_iso(temp_c + 0.5) / speed_of_sound_iso(temp_c - 0.5)
    assert cents(ratio) == pytest.approx(want, abs=0.001)


def test_humidity_and_co2_in_cents():
    # Both from Cramer's equation; 0.05 cent is the rounding of the wanted values.
    dry, wet = (speed_of_sound_cramer(Air(temp_c=20.0, humidity=h)) for h in (0.0, 1.0))
    assert cents(wet / dry) == pytest.approx(6.3, abs=0.05)
    fresh, stale = (
        speed_of_sound_cramer(Air(temp_c=30.0, humidity=1.0, co2=xc)) for xc in (0.0004, 0.01)
    )
    assert cents(stale / fresh) == pytest.approx(-4.2, abs=0.05)


def test_zero_is_a_temperature_and_a_humidity():
    # Not "no temperature given": 0 °C differs from the default by 13 m/s.
    air = Air(temp_c=0.0, humidity=0.0, co2=0.0)
    assert air.speed_m_s == pytest.approx(331.48, abs=0.01)
    assert Air().speed_m_s == pytest.approx(347.1268, abs=0.0005)


@pytest.mark.parametrize(
    ("air", "words"),
    [
        (Air(temp_c=-0.1), "temperature −0.1 is outside 0 to 30 °C$"),
        (Air(temp_c=30.1), "temperature 30.1 is outside 0 to 30"),
        (Air(temp_c=70.0), r"outside 0 to 30 °C \(is that in Fahrenheit\?\)"),
        (Air(humidity=50.0), "humidity 50 is outside 0 to 1 .*50 % is 0.5"),
        (Air(humidity=-0.1), "humidity −0.1 is outside"),
        (Air(pressure_pa=1013.25), "pressure 1013.25 is outside 75000 to 102000 Pa"),
        (Air(pressure_pa=102_001.0), "pressure 102001 is outside"),
        (Air(co2=400.0), "CO2 400 is outside 0 to 0.01 .*400 ppm is 0.0004"),
        (Air(temp_c=math.nan), "temperature nan is outside"),
    ],
)
def test_cramer_refuses_air_outside_its_range(air, words):
    with pytest.raises(AirError, match=words):
        speed_of_sound_cramer(air)


@pytest.mark.parametrize("temp_c", [-20.1, 50.1])
def test_iso_refuses_air_outside_its_range(temp_c):
    with pytest.raises(AirError, match="outside −20 to 50 °C"):
        speed_of_sound_iso(temp_c)


def test_the_ends_of_the_ranges_are_inside():
    assert Air(temp_c=0.0).speed_m_s < Air(temp_c=30.0).speed_m_s
    assert speed_of_sound_iso(-20.0) < speed_of_sound_iso(50.0)
    assert Air(pressure_pa=75_000.0).speed_m_s > 340.0
    assert Air(pressure_pa=102_000.0, co2=0.01).speed_m_s > 340.0
