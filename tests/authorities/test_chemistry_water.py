"""Water against an independent library: IAPWS-95 as CoolProp computes it, recorded with its call in the tables."""

import csv
from pathlib import Path

import pytest

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.temperature import Portion, mixed_celsius, mixed_celsius_exact
from labsys.chemistry.water import enthalpy_of_water, heat_capacity_of_water, specific_volume_of_water


def table(name):
    lines = (Path(__file__).parent / name).read_text(encoding="utf-8").splitlines()
    return [
        {key: float(value) for key, value in row.items()}
        for row in csv.DictReader(line for line in lines if not line.startswith("#"))
    ]


WATER = table("coolprop-water.csv")
MIXING = table("coolprop-mixing.csv")


@pytest.mark.parametrize("row", WATER, ids=lambda row: f"{row['celsius']:g}C")
def test_the_volume_and_heat_of_tap_water_agree(row):
    """CoolProp 8.0.0; its 101.325 kPa against 0.1 MPa moves the last digits only."""
    celsius, at_one = row["celsius"], enthalpy_of_water(celsius=1)
    assert 1000 / specific_volume_of_water(celsius=celsius) == pytest.approx(row["density_kg_per_m3"], abs=0.002)
    assert heat_capacity_of_water(celsius=celsius) == pytest.approx(row["heat_capacity_j_per_kg_k"], abs=0.5)
    assert enthalpy_of_water(celsius=celsius) - at_one == pytest.approx(row["enthalpy_above_1c_j_per_kg"], abs=20)


@pytest.mark.parametrize("row", MIXING, ids=lambda row: f"{row['first_celsius']:g} and {row['second_celsius']:g}C")
def test_waters_mixed_by_enthalpy_agree_and_the_simple_balance_reads_a_little_high(row):
    """CoolProp 8.0.0. Half and half of 5 and 60 °C is the worst a darkroom could do: 0.254 °C; usually under 0.15."""
    portions = [Portion(row["first_ml"], row["first_celsius"]), Portion(row["second_ml"], row["second_celsius"])]
    assert mixed_celsius_exact(portions=portions) == pytest.approx(row["mixed_celsius"], abs=0.002)
    assert -0.001 <= mixed_celsius(portions=portions) - row["mixed_celsius"] <= 0.26


HANDBOOK = "CRC Handbook of Chemistry and Physics, 53rd ed., p. F-4, older scale of temperature, 4 in the sixth place"
PRINTED = [(0, 0.999841), (4, 0.999973), (5, 0.999965), (8, 0.999849), (10, 0.999700), (12, 0.999498), (15, 0.999099)]


@pytest.mark.parametrize(("celsius", "kg_per_litre", "source"), [(*row, HANDBOOK) for row in PRINTED])
def test_cold_water_weighs_what_the_handbook_prints(celsius, kg_per_litre, source):
    assert 1 / specific_volume_of_water(celsius=celsius) == pytest.approx(kg_per_litre, abs=4e-6), source


def test_the_density_at_25_degrees_is_the_printed_check_value():
    """IAPWS SR6-08(2011), Table 8, at 298.15 K: 997.047013 kg/m³."""
    assert 1000 / specific_volume_of_water(celsius=25) == pytest.approx(997.047013, abs=5e-7)


def test_the_heat_capacity_at_25_degrees_is_the_printed_check_value():
    """IAPWS SR6-08(2011), Table 8, at 298.15 K: 4.18144618 kJ/(kg K)."""
    assert heat_capacity_of_water(celsius=25) == pytest.approx(4181.44618, abs=5e-6)


SCHOOL = [
    (0.060, 20, 0.120, 100, 73.3, "calculated from the weights: a school problem, (60*20 + 120*100) / 180"),
    (0.080, 70, 0.090, 10, 38.2, "calculated from the weights: a school problem, (80*70 + 90*10) / 170"),
]


@pytest.mark.parametrize(("first_kg", "first", "second_kg", "second", "mixed", "source"), SCHOOL)
def test_two_weights_of_water_mix_as_in_a_school_book(first_kg, first, second_kg, second, mixed, source):
    """The book takes one heat capacity for all water; the exact balance lies within a quarter of a degree of it."""
    portions = [
        Portion(1000 * kg * specific_volume_of_water(celsius=celsius), celsius)
        for kg, celsius in ((first_kg, first), (second_kg, second))
    ]
    assert mixed_celsius_exact(portions=portions) == pytest.approx(mixed, abs=0.25), source


@pytest.mark.parametrize("ask", [specific_volume_of_water, heat_capacity_of_water, enthalpy_of_water])
@pytest.mark.parametrize("celsius", [-0.1, 100.1, float("nan")])
def test_a_property_without_standing_is_refused(ask, celsius):
    with pytest.raises(OutOfRange):
        ask(celsius=celsius)
