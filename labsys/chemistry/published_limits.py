"""Capacities and keeping times as published, to start a lab's own rules from.

A figure of the lab's, or of the maker's sheet, always takes their place. What was not read in print says "Common
practice" or "From memory".
"""

from dataclasses import dataclass

from labsys.chemistry.bath_rules import AgeLimit, AreaCapacity, Holding
from labsys.chemistry.sizes import Material, area_of_units_mm2

_ANCHELL = "S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. "
_NAVY = "NAVEDTRA 14209, Photography (Basic): about 200 prints 8x10 in per US gallon"
_CRABTREE = "J. I. Crabtree and H. A. Hart, Trans. SMPE XIII no. 38 (1929), p. 401: "
_PRACTICE = "Common practice, no source"
LITRES_PER_US_GALLON = 3.785411784  # exact, by definition
DAY = 24


@dataclass(frozen=True, slots=True)
class PublishedCapacity:
    """Units of 80 in² that a litre takes, as somebody published it. [1/L]"""

    bath: str
    units_per_litre: float
    source: str


CAPACITIES = (
    PublishedCapacity("fixer, prints", 200 / LITRES_PER_US_GALLON, _NAVY),
    PublishedCapacity("fixer, unknown acid type, film or paper", 20, _ANCHELL + "108"),
    PublishedCapacity("fixer, alkaline", 25, _ANCHELL + "108"),
    PublishedCapacity("rapid fixer 1+4, film", 20, _PRACTICE + ": tabular-grain film 50 to 70 % of it"),
    PublishedCapacity("acid hardening hypo, first of two baths, fibre paper", 50, _PRACTICE + ": then rotate"),
    PublishedCapacity(
        "plain or acid hypo, prints, careful",
        15.9,
        "J. B. Schriever, Complete Self-Instructing Library of Practical Photography (c. 1909), par. 463",
    ),
    PublishedCapacity("hypo 25 %, camera film, still", 10.9, _CRABTREE + "200 ft of 35 mm per US gallon"),
    PublishedCapacity("hypo 25 %, camera film, moved", 16.4, _CRABTREE + "300 ft of 35 mm per US gallon"),
    PublishedCapacity("hypo 25 %, positive film", 32.8, _CRABTREE + "600 ft of 35 mm per US gallon"),
    PublishedCapacity("non-swelling stop bath, film", 12, _ANCHELL + "268; a French text gives 25"),
    PublishedCapacity("MQ borax developer, undiluted, film", 4, "From memory; up to 8 with longer times"),
    PublishedCapacity("print developer, working solution", 20, "From memory: 20 to 30"),
)

# Where a lab has set nothing: common practice, no source, within the published figures above.
STARTING_AREAS = (
    AreaCapacity(Material.FILM, area_of_units_mm2(units=20), _PRACTICE + ": fixer, 20 rolls per litre"),
    AreaCapacity(Material.RC, area_of_units_mm2(units=40), _PRACTICE + ": fixer, 40 sheets 8x10 in per litre"),
    AreaCapacity(Material.FIBRE, area_of_units_mm2(units=20), _PRACTICE + ": fixer, 20 sheets for long keeping"),
)

RAPID_FIXER_KEEPS = (
    AgeLimit(Holding.FULL_BOTTLE, 182 * DAY, _PRACTICE + ": 6 months"),
    AgeLimit(Holding.PART_FULL_BOTTLE, 30 * DAY, _PRACTICE + ": 1 month"),
    AgeLimit(Holding.TANK, 61 * DAY, _PRACTICE + ": 2 months"),
    AgeLimit(Holding.TRAY, 7 * DAY, _PRACTICE + ": 7 days"),
)
STOP_BATH_KEEPS = (
    AgeLimit(Holding.FULL_BOTTLE, 182 * DAY, "From memory: 6 months or more; citric acid grows mould"),
    AgeLimit(Holding.PART_FULL_BOTTLE, 30 * DAY, "From memory: 1 month or more"),
    AgeLimit(Holding.TANK, 30 * DAY, "From memory: 1 month"),
    AgeLimit(Holding.TRAY, 3 * DAY, "From memory: 3 days"),
)
PRINT_DEVELOPER_KEEPS = (AgeLimit(Holding.TRAY, 8, "From memory: one session, 8 to 24 hours at most"),)
WASH_AID_KEEPS = (AgeLimit(Holding.TRAY, DAY, "From memory: 24 hours"),)
WETTING_AGENT_KEEPS = (AgeLimit(Holding.PART_FULL_BOTTLE, 7 * DAY, "From memory: a week, better fresh"),)
# Liquid, sealed: common practice, no source; USAF T.O. 33B-1-1, paras 6.7.7-6.7.9, has developer used within two years.
CONCENTRATE_KEEPS_UNOPENED_HOURS = 2 * 365 * DAY


@dataclass(frozen=True, slots=True)
class DischargeLimit:
    """Silver that an authority lets into its sewers, or counts as hazardous, as published. Ask your own. [mg/L]"""

    where: str
    mg_per_litre: float
    source: str


SILVER_LIMITS = (
    DischargeLimit("Dallas, the stricter of two", 0.36, "City of Dallas Water Utilities: 0.36 and 3.04 mg/L"),
    DischargeLimit("Palo Alto, California", 1.0, "Palo Alto Municipal Code, chapter 16.09"),
    DischargeLimit("suburbs of Washington", 1.2, "Washington Suburban Sanitary Commission, in essr.umd.edu"),
    DischargeLimit("Massachusetts", 2, "310 CMR 71.02"),
    DischargeLimit(
        "United Kingdom, consent unlikely above", 5, "UK photographic industry code of practice on effluent (COPPICE)"
    ),
)


@dataclass(frozen=True, slots=True)
class SilverInFixer:
    """Silver that a fixer may hold before what it does is in doubt, as published. [g/L]"""

    grams_per_litre: float
    source: str


_HANDOUT = "a photographic workshop hand-out, Archival Processing: "
SINGLE_PAPER_FIXER = SilverInFixer(0.5, _HANDOUT + "0.5 g/L in a single bath for prints that are to keep")
FIRST_PAPER_FIXER = SilverInFixer(2, _HANDOUT + "2 g/L in the first of two baths")
# 4 g/L are given there for ammonium thiosulfate; which of the two a fixer is, is not stated, so the stricter stands.
FILM_FIXER = SilverInFixer(2, "a US compliance guide for printers: about 2 g/L where it is sodium thiosulfate")
SECOND_FIXER = SilverInFixer(0.3, "From memory: 0.3 to 0.5 g/L in the second of two baths")
