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
    """0.1 MPa against 101.325 kPa moves the last digits only."""
    celsius, at_one = row["celsius"], enthalpy_of_water(celsius=1)
    assert 1000 / specific_volume_of_water(celsius=celsius) == pytest.approx(row["density_kg_per_m3"], abs=0.002)
    assert heat_capacity_of_water(celsius=celsius) == pytest.approx(row["heat_capacity_j_per_kg_k"], abs=0.5)
    assert enthalpy_of_water(celsius=celsius) - at_one == pytest.approx(row["enthalpy_above_1c_j_per_kg"], abs=20)


@pytest.mark.parametrize("row", MIXING, ids=lambda row: f"{row['first_celsius']:g} and {row['second_celsius']:g}C")
def test_waters_mixed_by_enthalpy_agree_and_the_simple_balance_reads_a_little_high(row):
    """Half and half of 5 and 60 °C is the worst a darkroom could do: 0.254 °C; usual mixes stay under 0.15."""
    portions = [Portion(row["first_ml"], row["first_celsius"]), Portion(row["second_ml"], row["second_celsius"])]
    assert mixed_celsius_exact(portions=portions) == pytest.approx(row["mixed_celsius"], abs=0.002)
    assert -0.001 <= mixed_celsius(portions=portions) - row["mixed_celsius"] <= 0.26


@pytest.mark.parametrize("ask", [specific_volume_of_water, heat_capacity_of_water, enthalpy_of_water])
@pytest.mark.parametrize("celsius", [-0.1, 100.1, float("nan")])
def test_a_property_without_standing_is_refused(ask, celsius):
    with pytest.raises(OutOfRange):
        ask(celsius=celsius)
