"""Every limit of the tables, tried at the limit and a hair below it."""

import pytest

from labsys.hazards.classes import Family
from labsys.hazards.mixtures import Ingredient, classify
from labsys.hazards.mixtures.acute import category_of, mixture_ate
from labsys.hazards.mixtures.model import Ate, Route
from labsys.hazards.nations import Rules
from tests.hazards.making import AMMONIUM_DICHROMATE, of, plain

HAIR = 0.0001  # one part per million

ALONE = [  # class and limit of one ingredient on its own, [% w/w]
    ("Resp. Sens. 1 H334", 1.0, "CLP Annex I Table 3.4.5, solids and liquids, from memory"),
    ("Resp. Sens. 1A H334", 0.1, "Table 3.4.5, from memory"),
    ("Resp. Sens. 1B H334", 1.0, "Table 3.4.5, from memory"),
    ("Skin Sens. 1 H317", 1.0, "Table 3.4.5, from memory"),
    ("Skin Sens. 1A H317", 0.1, "Table 3.4.5, from memory"),
    ("Skin Sens. 1B H317", 1.0, "Table 3.4.5, from memory"),
    ("Muta. 1A H340", 0.1, "Table 3.5.2, from memory"),
    ("Muta. 1B H340", 0.1, "Table 3.5.2, from memory"),
    ("Muta. 2 H341", 1.0, "Table 3.5.2, from memory"),
    ("Carc. 1A H350", 0.1, "Table 3.6.2, from memory"),
    ("Carc. 1B H350i", 0.1, "Table 3.6.2, from memory"),
    ("Carc. 2 H351", 1.0, "Table 3.6.2, from memory"),
    ("Repr. 1A H360D", 0.3, "Table 3.7.2, read in ECHA Helpdesk seminar slides 2012"),
    ("Repr. 1B H360FD", 0.3, "Table 3.7.2, read in ECHA Helpdesk seminar slides 2012"),
    ("Repr. 2 H361d", 3.0, "Table 3.7.2, read in ECHA Helpdesk seminar slides 2012"),
    ("Lact. H362", 0.3, "Table 3.7.2, read in ECHA Helpdesk seminar slides 2012"),
    ("STOT SE 1 H370", 10.0, "TRGS 201, 2.2.6"),
    ("STOT SE 2 H371", 10.0, "TRGS 201, 2.2.6"),
    ("STOT RE 1 H372", 10.0, "TRGS 201, 2.2.6"),
    ("STOT RE 2 H373", 10.0, "TRGS 201, 2.2.6"),
    ("STOT SE 3 H335", 20.0, "TRGS 201, 2.2.6"),
    ("STOT SE 3 H336", 20.0, "TRGS 201, 2.2.6"),
    ("Asp. Tox. 1 H304", 10.0, "CLP Annex I 3.10, from memory"),
    ("Skin Irrit. 2 H315", 10.0, "Table 3.2.3, read in ECHA Helpdesk seminar slides 2012"),
    ("Skin Corr. 1A H314", 5.0, "Table 3.2.3, read in ECHA Helpdesk seminar slides 2012"),
    ("Skin Corr. 1C H314", 5.0, "Table 3.2.3 with its note, from memory"),
    ("Eye Irrit. 2 H319", 10.0, "Table 3.3.3, from memory"),
    ("Eye Dam. 1 H318", 3.0, "Table 3.3.3, from memory"),
    ("Aquatic Acute 1 H400", 25.0, "Table 4.1.1, from memory"),
    ("Aquatic Chronic 1 H410", 25.0, "Table 4.1.2, from memory"),
    ("Aquatic Chronic 2 H411", 25.0, "Table 4.1.2, from memory"),
    ("Aquatic Chronic 3 H412", 25.0, "Table 4.1.2, from memory"),
    ("Aquatic Chronic 4 H413", 25.0, "Table 4.1.2, from memory"),
]


@pytest.mark.parametrize(("text", "limit", "source"), ALONE, ids=[row[0] for row in ALONE])
def test_an_ingredient_classifies_from_its_limit_on_and_not_below(text, limit, source):
    assert text in map(str, classify([plain("x", limit, text)]).classes), source
    assert text not in map(str, classify([plain("x", limit - HAIR, text)]).classes), source


LESSER = [  # what becomes of an ingredient below its own class
    ("Skin Corr. 1B H314", 1.0, "Skin Irrit. 2 H315", "Table 3.2.3, read in ECHA Helpdesk seminar slides 2012"),
    ("Eye Dam. 1 H318", 1.0, "Eye Irrit. 2 H319", "Table 3.3.3, from memory"),
    ("Skin Corr. 1B H314", 3.0, "Eye Dam. 1 H318", "Table 3.3.3, from memory"),
    ("STOT SE 1 H370", 1.0, "STOT SE 2 H371", "TRGS 201, 2.2.6"),
    ("STOT RE 1 H372", 1.0, "STOT RE 2 H373", "TRGS 201, 2.2.6"),
    ("Aquatic Chronic 1 H410", 2.5, "Aquatic Chronic 2 H411", "Table 4.1.2, from memory"),
    ("Aquatic Chronic 1 H410", 0.25, "Aquatic Chronic 3 H412", "Table 4.1.2, from memory"),
    ("Aquatic Chronic 2 H411", 2.5, "Aquatic Chronic 3 H412", "Table 4.1.2, from memory"),
]


@pytest.mark.parametrize(("text", "limit", "lesser", "source"), LESSER)
def test_an_ingredient_gives_a_lesser_class_from_a_lower_limit_on(text, limit, lesser, source):
    assert lesser in map(str, classify([plain("x", limit, text)]).classes), source
    assert lesser not in map(str, classify([plain("x", limit - HAIR, text)]).classes), source


CUT_OFFS = [  # an ingredient just below its cut-off no longer helps another over the limit
    ("Skin Irrit. 2 H315", 1.0, 10.0, "CLP Annex I 3.2.3, 1 % read in reachonline.eu"),
    ("Eye Irrit. 2 H319", 1.0, 10.0, "CLP Annex I 3.2.3, 1 % read in reachonline.eu"),
    ("STOT SE 3 H336", 1.0, 20.0, "CLP Annex I Table 1.1, from memory"),
    ("Asp. Tox. 1 H304", 1.0, 10.0, "CLP Annex I Table 1.1, from memory"),
    ("Aquatic Chronic 3 H412", 1.0, 25.0, "CLP Annex I 4.1.3, read in reachlex.eu"),
    ("Aquatic Acute 1 H400", 0.1, 25.0, "CLP Annex I 4.1.3, read in reachlex.eu"),
]


@pytest.mark.parametrize(("text", "cut_off", "limit", "source"), CUT_OFFS)
def test_an_ingredient_counts_in_a_sum_from_its_cut_off_on(text, cut_off, limit, source):
    counted = [plain("little", cut_off, text), plain("rest", limit - cut_off, text)]
    ignored = [plain("little", cut_off - HAIR, text), plain("rest", limit - cut_off + HAIR, text)]
    assert text in map(str, classify(counted).classes), source
    assert text not in map(str, classify(ignored).classes), source


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("Skin Sens. 1 H317", 0.1),
        ("Skin Sens. 1B H317", 0.1),
        ("Skin Sens. 1A H317", 0.01),
        ("Resp. Sens. 1A H334", 0.01),
    ],
)
def test_a_sensitiser_is_named_from_its_elicitation_limit_on(text, limit):
    """CLP Annex I Table 3.4.6, from memory; the statement is EUH208, read in reachonline.eu, Annex II 2.8."""
    assert [s.code for s in classify([plain("x", limit, text)]).euh] == ["EUH208", "EUH210"]
    assert classify([plain("x", limit - HAIR, text)]).euh == ()


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("Carc. 2 H351", 0.1),
        ("Repr. 1B H360D", 0.1),
        ("Repr. 2 H361d", 0.1),
        ("Lact. H362", 0.1),
        ("Acute Tox. 4 H302", 1.0),
        ("Eye Irrit. 2 H319", 1.0),
        ("Aquatic Chronic 3 H412", 1.0),
    ],
)
def test_the_sheet_is_offered_from_a_limit_on(text, limit):
    """EUH210: CLP Annex II 2.10, read in reachlex.eu."""
    assert [s.code for s in classify([plain("x", limit, text)]).euh] == ["EUH210"]
    assert classify([plain("x", limit - HAIR, text)]).euh == ()


def test_a_flammable_or_oxidising_ingredient_alone_does_not_ask_for_the_sheet():
    """Annex II 2.10 speaks of health and environment only, read in reachlex.eu."""
    assert classify([plain("x", 5, "Ox. Sol. 2 H272"), plain("y", 5, "Flam. Liq. 2 H225")]).euh == ()


@pytest.mark.parametrize("family", [Family.PHENOL, Family.ACID, Family.BASE, Family.SALT, Family.ALDEHYDE])
@pytest.mark.parametrize(
    ("text", "limit", "outcome"),
    [
        ("Skin Corr. 1B H314", 1.0, "Skin Corr. 1 H314"),
        ("Skin Irrit. 2 H315", 3.0, "Skin Irrit. 2 H315"),
        ("Eye Dam. 1 H318", 1.0, "Eye Dam. 1 H318"),
        ("Eye Irrit. 2 H319", 3.0, "Eye Irrit. 2 H319"),
    ],
)
def test_the_tables_without_adding_up_are_shown_from_their_limits_on(family, text, limit, outcome):
    """CLP Annex I Tables 3.2.4 and 3.3.4, from memory."""
    at, below = (plain("x", percent, text, families=frozenset({family})) for percent in (limit, limit - HAIR))
    assert outcome in [a.outcome for a in classify([at]).alternatives]
    assert classify([below]).alternatives == ()
    assert classify([plain("x", limit, text)]).alternatives == ()


def test_no_alternative_is_shown_where_it_says_nothing_worse():
    strong = plain("x", 10, "Skin Corr. 1B H314", families=frozenset({Family.BASE}))
    assert classify([strong]).alternatives == ()


BOUNDS = {  # CLP Annex I Table 3.1.1, consolidated version 20250901, read in reachlex.eu; inclusive
    Route.ORAL: (5, 50, 300, 2000),
    Route.DERMAL: (50, 200, 1000, 2000),
    Route.GAS: (100, 500, 2500, 20000),
    Route.VAPOUR: (0.5, 2.0, 10.0, 20.0),
    Route.DUST_MIST: (0.05, 0.5, 1.0, 5.0),
}
CONVERTED = {  # CLP Annex I Table 3.1.2, from memory
    Route.ORAL: (0.5, 5, 100, 500),
    Route.DERMAL: (5, 50, 300, 1100),
    Route.GAS: (10, 100, 700, 4500),
    Route.VAPOUR: (0.05, 0.5, 3, 11),
    Route.DUST_MIST: (0.005, 0.05, 0.5, 1.5),
}
CODES = {Route.ORAL: "H300 H300 H301 H302", Route.DERMAL: "H310 H310 H311 H312"}
INHALED = "H330 H330 H331 H332"
EVERY = [(route, place) for route in Route for place in range(4)]


@pytest.mark.parametrize(("route", "place"), EVERY)
def test_an_estimate_falls_in_the_category_of_the_table(route, place):
    bound = BOUNDS[route][place]
    assert category_of(route=route, ate=bound) == str(place + 1)
    assert category_of(route=route, ate=bound * 1.0001) == (str(place + 2) if place < 3 else None)


@pytest.mark.parametrize(("route", "place"), EVERY)
def test_a_bare_category_is_converted_by_the_table(route, place):
    code = CODES.get(route, INHALED).split()[place]
    pure = plain("x", 100, f"Acute Tox. {place + 1} {code}")
    assert mixture_ate([pure], route=route) == pytest.approx(CONVERTED[route][place], rel=1e-12)


@pytest.mark.parametrize(("category", "cut_off"), [("1", 0.1), ("2", 0.1), ("3", 0.1), ("4", 1.0)])
def test_a_poison_counts_from_its_cut_off_on(category, cut_off):
    """CLP Annex I Table 1.1, from memory; 1 % read in reachonline.eu."""
    code = CODES[Route.ORAL].split()[int(category) - 1]
    assert mixture_ate([plain("x", cut_off, f"Acute Tox. {category} {code}")], route=Route.ORAL) is not None
    assert mixture_ate([plain("x", cut_off - HAIR, f"Acute Tox. {category} {code}")], route=Route.ORAL) is None


def test_an_estimate_in_one_form_of_inhalation_is_not_used_for_another():
    vapour = Ingredient(name="x", high_percent=50, ates=(Ate(Route.VAPOUR, 3),))
    assert mixture_ate([vapour], route=Route.DUST_MIST) is None
    assert [str(hazard) for hazard in classify([vapour]).classes] == ["Acute Tox. 3 H331"]


def test_an_ingredient_with_nothing_in_it_leaves_no_trace():
    found = classify([plain("x", 0, "Flam. Liq. 2 H225", "Ox. Sol. 2 H272", "Skin Sens. 1 H317", euh=("EUH031",))])
    assert (found.open_points, found.screening, found.sensitisers, found.euh) == ((), (), (), ())


@pytest.mark.parametrize(("percent", "named"), [(0.02, True), (0.0199, False)])
def test_the_newer_naming_rule_starts_at_a_tenth_of_the_own_limit(percent, named):
    """Ammonium dichromate, own limit 0.2 %; 2025 EU text of CLP Annex II 2.8, read in reachonline.eu.

    Under GB it is the second reading, under the EU it holds.
    """
    weak = of({AMMONIUM_DICHROMATE: percent})
    rule = "Newer EU rule for naming sensitisers"
    assert (rule in [each.rule for each in classify(weak).alternatives]) is named
    assert rule not in [each.rule for each in classify(weak, rules=Rules.EU).alternatives]
    for rules, is_named in ((Rules.GB, False), (Rules.EU, named)):
        assert ("EUH208" in [each.code for each in classify(weak, rules=rules).euh]) is is_named
