"""Figures as printed by others, converted here from their own units; one row each, the publication beside it."""

from types import SimpleNamespace as Row

import pytest

from labsys.chemistry.development import fix_and_wash_factor
from labsys.chemistry.dilution import Dilution, split, split_to_percent
from labsys.chemistry.measuring import Cylinder, CylinderClass, Standard
from labsys.chemistry.published_limits import CAPACITIES, LITRES_PER_US_GALLON
from labsys.chemistry.replenishment import rate_ml_per_unit
from labsys.chemistry.salts import SALTS, hydrate_factor
from labsys.chemistry.silver import silver_by_iron_g
from labsys.chemistry.sizes import UNIT_MM2, Material, size_of
from labsys.chemistry.volumes import tray_litres
from labsys.chemistry.washing import after_fills_g_per_l, in_running_water_g_per_m2, limit_g_per_m2

SQUARE_INCH = 645.16  # [mm²]
FLUID_OUNCE = 29.5735295625  # US [mL]
FOOT = 304.8  # [mm]
CRABTREE = "J. I. Crabtree and H. A. Hart, Trans. SMPE XIII no. 38 (1929), p. 401"


def percent_of(**changes):
    return float(split_to_percent(**changes).concentrate_ml)


def film_m2_per_litre(feet):
    return feet * FOOT * 35 / 1e6 / LITRES_PER_US_GALLON


def capacity(bath):
    return next(row.units_per_litre for row in CAPACITIES if row.bath == bath)


FIGURES = [
    Row(
        what="28 % acid from 99.5 %, fl oz",
        got=percent_of(from_percent=99.5, to_percent=28, working_ml=32),
        printed=9.0,
        abs=0.05,
        source="US Army SS0513, Photographic Quality Control, ed. 9 (1988), worked example",
    ),
    Row(
        what="25 L at 1+4, litres",
        got=float(split(dilution=Dilution(4), working_ml=25_000).concentrate_ml) / 1000,
        printed=5,
        abs=0,
        source="industrial-radiography supplier's guide: 5 L and 20 L of water",
    ),
    Row(
        what="200 prints per US gal, per litre",
        got=capacity("fixer, prints"),
        printed=52.8,
        abs=0.05,
        source="NAVEDTRA 14209, Photography (Basic), 200 prints 8x10 in per US gallon",
    ),
    Row(
        what="the same, m2 per litre",
        got=capacity("fixer, prints") * UNIT_MM2 / 1e6,
        printed=2.73,
        abs=0.014,
        source="NAVEDTRA 14209, Photography (Basic), 200 prints 8x10 in per US gallon",
    ),
    Row(what="200 ft per gal, m2 per litre", got=film_m2_per_litre(200), printed=0.564, abs=0.003, source=CRABTREE),
    Row(
        what="200 ft per gal, units",
        got=film_m2_per_litre(200) * 1e6 / UNIT_MM2,
        printed=10.9,
        abs=0.05,
        source=CRABTREE,
    ),
    Row(what="300 ft per gal, m2 per litre", got=film_m2_per_litre(300), printed=0.85, abs=0.005, source=CRABTREE),
    Row(what="600 ft per gal, m2 per litre", got=film_m2_per_litre(600), printed=1.69, abs=0.005, source=CRABTREE),
    Row(
        what="our table, still",
        got=capacity("hypo 25 %, camera film, still"),
        printed=film_m2_per_litre(200) * 1e6 / UNIT_MM2,
        abs=0.05,
        source=CRABTREE,
    ),
    Row(
        what="our table, moved",
        got=capacity("hypo 25 %, camera film, moved"),
        printed=film_m2_per_litre(300) * 1e6 / UNIT_MM2,
        abs=0.05,
        source=CRABTREE,
    ),
    Row(
        what="our table, positive",
        got=capacity("hypo 25 %, positive film"),
        printed=film_m2_per_litre(600) * 1e6 / UNIT_MM2,
        abs=0.05,
        source=CRABTREE,
    ),
    Row(
        what="30 prints 4x5 in in 16 fl oz",
        got=30 * 20 / 80 / (16 * FLUID_OUNCE / 1000),
        printed=capacity("plain or acid hypo, prints, careful"),
        abs=0.06,
        source="J. B. Schriever, Complete Self-Instructing Library of Practical Photography (c. 1909), par. 463",
    ),
    Row(
        what="8 fl oz per 800 in2, mL a unit",
        got=rate_ml_per_unit(volume_ml=8 * FLUID_OUNCE, area_mm2=800 * SQUARE_INCH),
        printed=23.66,
        abs=0.02,
        source="US Army SS0513, Photographic Quality Control, ed. 9 (1988), replenishment",
    ),
    Row(
        what="1 L per 3100 in2, mL a unit",
        got=rate_ml_per_unit(volume_ml=1000, area_mm2=3100 * SQUARE_INCH),
        printed=25.81,
        abs=0.02,
        source="New Mexico Administrative Code 20.3.6.612, Appendix C",
    ),
    Row(
        what="1 L per 3100 in2, mL per m2",
        got=1000 / (3100 * SQUARE_INCH / 1e6),
        printed=500.0,
        abs=0.05,
        source="New Mexico Administrative Code 20.3.6.612, Appendix C",
    ),
    Row(
        what="wash at 50 F",
        got=fix_and_wash_factor(celsius=10),
        printed=2.0,
        abs=0,
        source="US Army TM 11-2323, par. 33",
    ),
    Row(
        what="wash at 35 F",
        got=fix_and_wash_factor(celsius=(35 - 32) / 1.8),
        printed=4.0,
        abs=0.48,
        source="US Army TM 11-2323, par. 33; the model is smooth, 12 % is allowed",
    ),
    Row(
        what="halved each minute, 2 min",
        got=in_running_water_g_per_m2(start_g_per_m2=1, minutes=2),
        printed=0.25,
        abs=0,
        source="NAVEDTRA 14209, Photography (Basic)",
    ),
    Row(
        what="halved in 15 s, 1 min",
        got=in_running_water_g_per_m2(start_g_per_m2=1, minutes=1, half_time_seconds=15),
        printed=1 / 16,
        abs=0,
        source="US Army SS0509, Laboratory Procedures, ed. 8 (1988)",
    ),
    Row(
        what="10 mL of 60 g/L into 500 mL",
        got=after_fills_g_per_l(start_g_per_l=60, left_ml=10, fill_ml=500, fills=1),
        printed=1.20,
        abs=0.024,
        source="M. Torzynski, Strasbourg 2004; printed as 10:500, here 10:510, 2 % allowed",
    ),
    Row(
        what="2 mL of 60 g/L into 500 mL",
        got=after_fills_g_per_l(start_g_per_l=60, left_ml=2, fill_ml=500, fills=1),
        printed=0.24,
        abs=0.005,
        source="M. Torzynski, Strasbourg 2004",
    ),
    Row(
        what="keeping limit, microgram per cm2",
        got=limit_g_per_m2(material=Material.FILM) * 1e6 / 1e4,
        printed=1.4,
        abs=1e-9,
        source="36 CFR 1238.14 (c), 0.014 g/m2; a test laboratory prints 1.4 microgram per cm2",
    ),
    Row(
        what="silver for a gram of iron",
        got=silver_by_iron_g(iron_g=1),
        printed=3.86,
        abs=0.01,
        source="a cartridge maker's technical paper",
    ),
    Row(
        what="ASTM class A, 500 mL",
        got=Cylinder(500, 5, CylinderClass.A, Standard.ASTM_E1272).limit_ml,
        printed=2.00,
        abs=0,
        source="ASTM E1272-02(2012), Table 1",
    ),
    Row(
        what="thiosulfate, anhydrous",
        got=hydrate_factor(salt=SALTS["sodium thiosulfate"], from_waters=5, to_waters=0),
        printed=0.64,
        abs=0.005,
        source="S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. 268",
    ),
    Row(
        what="carbonate, monohydrate",
        got=hydrate_factor(salt=SALTS["sodium carbonate"], from_waters=0, to_waters=1),
        printed=1.2,
        abs=0.05,
        source="Langford's Basic Photography, Appendix D, one decimal",
    ),
    Row(
        what="carbonate, decahydrate",
        got=hydrate_factor(salt=SALTS["sodium carbonate"], from_waters=0, to_waters=10),
        printed=2.7,
        abs=0.05,
        source="Langford's Basic Photography, Appendix D, one decimal",
    ),
    Row(
        what="sulfite, heptahydrate",
        got=hydrate_factor(salt=SALTS["sodium sulfite"], from_waters=0, to_waters=7),
        printed=2.0,
        abs=0.05,
        source="Langford's Basic Photography, Appendix D; J. B. Schriever (c. 1909)",
    ),
    Row(
        what="sulfate crystals for 45 g",
        got=45 * hydrate_factor(salt=SALTS["sodium sulfate"], from_waters=0, to_waters=10),
        printed=105,
        abs=3.2,
        source="S. Anchell, The Darkroom Cookbook, 3rd ed., p. 268, rounded to 105 g; 3 % allowed",
    ),
    Row(
        what="16x20 in tray at half an inch, litres",
        got=tray_litres(length_mm=20 * 25.4, width_mm=16 * 25.4),
        printed=2.62,
        abs=0.01,
        source="depth from US Army SS0509 (1988); calculated",
    ),
    Row(
        what="120 and 8x10 in count alike",
        got=float(size_of(key="120").units / size_of(key="8x10 in").units),
        printed=1,
        abs=0,
        source="a personal reference page on fixer capacity",
    ),
]


@pytest.mark.parametrize("row", FIGURES, ids=lambda row: row.what)
def test_a_printed_figure_comes_out_here(row):
    assert row.got == pytest.approx(row.printed, abs=row.abs, rel=0)


def test_a_published_capacity_from_memory_is_marked_so():
    assert sum(row.source.startswith("From memory") for row in CAPACITIES) == 2
