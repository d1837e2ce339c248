"""Worked examples: classes a mixture must get, each row with where its answer comes from.

"Calculated from ..." rows follow the named limits by hand; the limits of acetic acid, hydroxides, formaldehyde and the
others are those of CLP Annex VI, from memory.
"""

from typing import NamedTuple

import pytest

from labsys.hazards.mixtures import classify
from labsys.hazards.mixtures.acute import Bounds, mixture_ate
from labsys.hazards.mixtures.model import Ate, Route
from tests.hazards.making import ACETIC, DEVELOPER, FORMALDEHYDE, KOH, NAOH, PEROXIDE, SELENITE, of, plain


class Case(NamedTuple):
    """A mixture, the classes it must get and where the answer comes from."""

    what: str
    parts: dict
    classes: list
    euh: list
    source: str
    ph: float | None = None


SCL_ACETIC = "calculated from the Annex VI limits of acetic acid (from memory)"
E9 = "calculated from the entry of formaldehyde since ATP22 (Regulation (EU) 2024/2564, read)"
E5, E6 = "calculated from the Annex VI limits and the sum of fractions", "calculated from CLP Annex I tables"
WHOLE = [
    Case("stop bath 2 %", {ACETIC: 2}, [], ["EUH210"], SCL_ACETIC, 2.6),
    Case("acetic acid just under 10 %", {ACETIC: 9.9999}, [], ["EUH210"], SCL_ACETIC),
    Case("acetic acid exactly 10 %", {ACETIC: 10}, ["Skin Irrit. 2 H315", "Eye Irrit. 2 H319"], [], SCL_ACETIC),
    Case("acetic acid 12 %", {ACETIC: 12}, ["Skin Irrit. 2 H315", "Eye Irrit. 2 H319"], [], SCL_ACETIC),
    Case("acetic acid exactly 25 %", {ACETIC: 25}, ["Skin Corr. 1B H314", "Eye Dam. 1 H318"], [], SCL_ACETIC),
    Case("acetic acid 28 %", {ACETIC: 28}, ["Skin Corr. 1B H314", "Eye Dam. 1 H318"], [], SCL_ACETIC),
    Case("acetic acid exactly 90 %", {ACETIC: 90}, ["Skin Corr. 1A H314", "Eye Dam. 1 H318"], [], SCL_ACETIC),
    Case(
        "acetic acid with formaldehyde",
        {ACETIC: 6, FORMALDEHYDE: 3},
        [
            *("Acute Tox. 4 H332", "Skin Irrit. 2 H315", "Eye Irrit. 2 H319", "Skin Sens. 1A H317"),
            *("Muta. 2 H341", "Carc. 1B H350"),
        ],
        [],
        f"{E5}; {E9}: 100/0.03 = 3333 ppmV",
        2.4,
    ),
    Case("two hydroxides below their limits", {NAOH: 0.3, KOH: 0.3}, [], [], E5),
    Case("the same at pH 13", {NAOH: 0.3, KOH: 0.3}, ["Skin Corr. 1 H314", "Eye Dam. 1 H318"], [], E5, 13),
    Case("sodium hydroxide 0.6 %", {NAOH: 0.6}, ["Skin Irrit. 2 H315", "Eye Irrit. 2 H319"], [], E5),
    Case("sodium hydroxide 0.6 %, pH 13", {NAOH: 0.6}, ["Skin Corr. 1 H314", "Eye Dam. 1 H318"], [], E5, 13),
    Case("sodium hydroxide 2 %", {NAOH: 2}, ["Skin Corr. 1B H314", "Eye Dam. 1 H318"], [], E5, 13.5),
    Case("sodium hydroxide 5 %", {NAOH: 5}, ["Skin Corr. 1A H314", "Eye Dam. 1 H318"], [], E5, 14),
    Case(
        "metol-hydroquinone developer, undiluted",
        DEVELOPER,
        ["Eye Irrit. 2 H319", "Skin Sens. 1 H317", "Muta. 2 H341", "Carc. 2 H351", "Aquatic Chronic 3 H412"],
        [],
        E6,
        10.2,
    ),
    Case("the same, tenfold", {c: p / 10 for c, p in DEVELOPER.items()}, [], ["EUH208", "EUH210"], E6, 10),
    Case("selenite 3 %", {SELENITE: 3}, ["Acute Tox. 3 H301", "Skin Sens. 1 H317", "Aquatic Chronic 3 H412"], [], E6),
    Case("selenite 0.3 %", {SELENITE: 0.3}, ["Acute Tox. 4 H302"], ["EUH208"], E6),
    Case("selenite 0.15 %", {SELENITE: 0.15}, [], ["EUH208", "EUH210"], E6),
    Case("selenite 0.06 %", {SELENITE: 0.06}, [], [], E6),
    Case(
        "formaldehyde 0.5 %",
        {FORMALDEHYDE: 0.5},
        ["Acute Tox. 4 H332", "Skin Sens. 1A H317", "Carc. 1B H350"],
        [],
        f"{E9}: 100/0.005 = 20 000 ppmV",
    ),
    Case("formaldehyde 0.15 %", {FORMALDEHYDE: 0.15}, ["Skin Sens. 1A H317", "Carc. 1B H350"], [], E9),
    Case("formaldehyde 0.09 %", {FORMALDEHYDE: 0.09}, [], ["EUH208", "EUH210"], E9),
    Case("peroxide 3 %", {PEROXIDE: 3}, [], ["EUH210"], "calculated from its Annex VI limits (from memory)"),
    Case("peroxide 6 %", {PEROXIDE: 6}, ["Eye Irrit. 2 H319"], [], "calculated from its Annex VI limits (from memory)"),
    Case("thiosulfate 20 %", {"10102-17-7": 20}, [], [], "nothing classified in it: calculated from CLP Annex II 2.10"),
]


@pytest.mark.parametrize("case", WHOLE, ids=lambda case: case.what)
def test_a_mixture_gets_the_classes_of_the_worked_example(case):
    found = classify(of(case.parts), ph=case.ph)
    assert {str(hazard) for hazard in found.classes} == set(case.classes), case.source
    assert [supplement.code for supplement in found.euh] == case.euh, case.source


UN = "UN ST/SG/AC.10/C.4/2008/23, example 3.1(d), read in scribd.com/document/460832608"


def un_example():
    """The four ingredients as printed: oral LD50 in mg/kg, vapour LC50 in mg/L, one unknown by inhalation."""
    return [
        plain("one", 26, ates=(Ate(Route.ORAL, 2737), Ate(Route.VAPOUR, 11))),
        plain("two", 23, ates=(Ate(Route.ORAL, 4500), Ate(Route.VAPOUR, 19))),
        plain("three", 11, unknown_toxicity=frozenset({Route.VAPOUR})),
        plain("four", 40, ates=(Ate(Route.ORAL, 400), Ate(Route.VAPOUR, 4))),
    ]


def test_the_published_example_of_acute_toxicity_is_reproduced():
    """Source: UN ST/SG/AC.10/C.4/2008/23, example 3.1(d): 873 mg/kg and 6.6 mg/L, printed to three and two digits."""
    assert mixture_ate(un_example(), route=Route.ORAL, bounds=Bounds.UN) == pytest.approx(873, abs=0.6), UN
    assert mixture_ate(un_example(), route=Route.VAPOUR, bounds=Bounds.UN) == pytest.approx(6.6, abs=0.05), UN
    found = classify(un_example())
    assert [str(hazard) for hazard in found.classes] == ["Acute Tox. 3 H331", "Acute Tox. 4 H302"]
    assert found.notices == ("11 % of the mixture consists of ingredients of unknown acute inhalation toxicity.",)


ONE_CLASS = [  # (what, ingredients, expected classes, source)
    ("unclassified surfactant with 0.8 % thickener", [plain("thickener", 0.8, "Skin Irrit. 2 H315")], [],
     "ECHA Helpdesk seminar 2012 (O. Tunnela): below the 1 % cut-off"),
    ("the same with 1.8 % thickener", [plain("thickener", 1.8, "Skin Irrit. 2 H315")], [],
     "ECHA Helpdesk seminar 2012: above the cut-off; last step calculated from Table 3.2.3"),
    ("corrosive at 4 %", [plain("c", 4, "Skin Corr. 1B H314")], ["Skin Irrit. 2 H315", "Eye Dam. 1 H318"],
     "enviprofi.cz 4.8.6.2: not corrosive below 5 %; eye calculated from Table 3.3.3"),
    ("corrosive declared as 3-7 %", [plain("c", 7, "Skin Corr. 1B H314")], ["Skin Corr. 1B H314", "Eye Dam. 1 H318"],
     "enviprofi.cz 4.8.6.2: the upper end of a range counts"),
    ("two corrosives of 3 %", [plain("a", 3, "Skin Corr. 1A H314"), plain("b", 3, "Skin Corr. 1B H314")],
     ["Skin Corr. 1B H314", "Eye Dam. 1 H318"], "Table 3.2.3 and its note on sub-categories, from memory"),
    ("two corrosives, one without sub-category",
     [plain("a", 3, "Skin Corr. 1A H314"), plain("b", 3, "Skin Corr. 1 H314")],
     ["Skin Corr. 1 H314", "Eye Dam. 1 H318"], "Table 3.2.3 and its note on sub-categories, from memory"),
    ("irritants adding up to 10 %", [plain("a", 6, "Skin Irrit. 2 H315"), plain("b", 4, "Skin Irrit. 2 H315")],
     ["Skin Irrit. 2 H315"], "ECHA Helpdesk seminar 2012, Table 3.2.3"),
    ("irritants adding up to 9.9 %", [plain("a", 5.9, "Skin Irrit. 2 H315"), plain("b", 4, "Skin Irrit. 2 H315")], [],
     "ECHA Helpdesk seminar 2012, Table 3.2.3"),
    ("Eye Dam. 1 at 3 %", [plain("a", 3, "Eye Dam. 1 H318")], ["Eye Dam. 1 H318"], "Table 3.3.3, from memory"),
    ("Eye Dam. 1 at 2.9 %", [plain("a", 2.9, "Eye Dam. 1 H318")], ["Eye Irrit. 2 H319"], "Table 3.3.3, from memory"),
    ("corrosive and damaging substance is counted once",
     [plain("a", 2, "Skin Corr. 1B H314", "Eye Dam. 1 H318")], ["Skin Irrit. 2 H315", "Eye Irrit. 2 H319"],
     "Table 3.3.3, from memory: 2 % stays below 3 %"),
    ("Carc. 1B at 0.1 %", [plain("a", 0.1, "Carc. 1B H350")], ["Carc. 1B H350"], "Table 3.6.2, from memory"),
    ("Carc. 2 at 0.9999 %", [plain("a", 0.9999, "Carc. 2 H351")], [], "Table 3.6.2, from memory"),
    ("Carc. 2 twice 0.6 % is not added up",
     [plain("a", 0.6, "Carc. 2 H351"), plain("b", 0.6, "Carc. 2 H351")], [], "CLP Annex I 3.6, from memory"),
    ("Muta. 1B at 0.1 %", [plain("a", 0.1, "Muta. 1B H340")], ["Muta. 1B H340"], "Table 3.5.2, from memory"),
    ("Repr. 1B at 0.3 %", [plain("a", 0.3, "Repr. 1B H360FD")], ["Repr. 1B H360FD"],
     "ECHA Helpdesk seminar 2012, Table 3.7.2"),
    ("Repr. 1B at 0.29 %", [plain("a", 0.29, "Repr. 1B H360FD")], [], "ECHA Helpdesk seminar 2012, Table 3.7.2"),
    ("Repr. 2 at 3 %", [plain("a", 3, "Repr. 2 H361d")], ["Repr. 2 H361d"], "ECHA Helpdesk seminar 2012, Table 3.7.2"),
    ("Repr. 2 at 2.9 %", [plain("a", 2.9, "Repr. 2 H361d")], [], "ECHA Helpdesk seminar 2012, Table 3.7.2"),
    ("Lact. at 0.3 %", [plain("a", 0.3, "Lact. H362")], ["Lact. H362"], "ECHA Helpdesk seminar 2012, Table 3.7.2"),
    ("letters of two reproductive poisons are joined",
     [plain("a", 1, "Repr. 1B H360D"), plain("b", 4, "Repr. 2 H361f")], ["Repr. 1B H360Df"],
     "CLP Annex VI 1.1.2.1.2 on suffix letters, from memory"),
    ("two of one category", [plain("a", 1, "Repr. 1B H360F"), plain("b", 1, "Repr. 1B H360D")], ["Repr. 1B H360FD"],
     "CLP Annex VI 1.1.2.1.2 on suffix letters, from memory"),
    ("a code without letters covers them all", [plain("a", 4, "Repr. 2 H361"), plain("b", 4, "Repr. 2 H361d")],
     ["Repr. 2 H361"], "CLP Annex VI 1.1.2.1.2 on suffix letters, from memory"),
    ("Skin Sens. 1 at 1 %", [plain("a", 1, "Skin Sens. 1 H317")], ["Skin Sens. 1 H317"], "Table 3.4.5, from memory"),
    ("Skin Sens. 1A at 0.1 %", [plain("a", 0.1, "Skin Sens. 1A H317")], ["Skin Sens. 1A H317"],
     "Table 3.4.5, from memory"),
    ("Skin Sens. 1B at 0.99 %", [plain("a", 0.99, "Skin Sens. 1B H317")], [], "Table 3.4.5, from memory"),
    ("Resp. Sens. 1 at 1 %", [plain("a", 1, "Resp. Sens. 1 H334")], ["Resp. Sens. 1 H334"],
     "Table 3.4.5, solids and liquids, from memory"),
    ("STOT RE 1 at 10 %", [plain("a", 10, "STOT RE 1 H372")], ["STOT RE 1 H372"], "TRGS 201, 2.2.6"),
    ("STOT RE 1 at 1 %", [plain("a", 1, "STOT RE 1 H372")], ["STOT RE 2 H373"], "TRGS 201, 2.2.6"),
    ("STOT RE 1 at 0.9 %", [plain("a", 0.9, "STOT RE 1 H372")], [], "TRGS 201, 2.2.6"),
    ("STOT RE 2 at 10 %", [plain("a", 10, "STOT RE 2 H373")], ["STOT RE 2 H373"], "TRGS 201, 2.2.6"),
    ("STOT RE 2 at 9.9 %", [plain("a", 9.9, "STOT RE 2 H373")], [], "TRGS 201, 2.2.6"),
    ("STOT SE 1 at 5 %", [plain("a", 5, "STOT SE 1 H370")], ["STOT SE 2 H371"], "TRGS 201, 2.2.6"),
    ("drowsiness adds up to 20 %", [plain("a", 12, "STOT SE 3 H336"), plain("b", 8, "STOT SE 3 H336")],
     ["STOT SE 3 H336"], "TRGS 201, 2.2.6"),
    ("irritation of airways and drowsiness are not added to each other",
     [plain("a", 12, "STOT SE 3 H335"), plain("b", 12, "STOT SE 3 H336")], [], "TRGS 201, 2.2.6"),
    ("aspiration from 10 %", [plain("a", 10, "Asp. Tox. 1 H304")], ["Asp. Tox. 1 H304"], "CLP 3.10, from memory"),
    ("Aquatic Acute 1 at 25 %", [plain("a", 25, "Aquatic Acute 1 H400")], ["Aquatic Acute 1 H400"],
     "Table 4.1.1, from memory"),
    ("Aquatic Acute 1 at 2.5 % with M = 10", [plain("a", 2.5, "Aquatic Acute 1 H400", m_acute=10)],
     ["Aquatic Acute 1 H400"], "Table 4.1.1, from memory"),
    ("Chronic 1 at 25 %", [plain("a", 25, "Aquatic Chronic 1 H410")], ["Aquatic Chronic 1 H410"],
     "Table 4.1.2, from memory"),
    ("Chronic 1 at 2.5 %", [plain("a", 2.5, "Aquatic Chronic 1 H410")], ["Aquatic Chronic 2 H411"],
     "Table 4.1.2, from memory"),
    ("Chronic 1 at 0.25 %", [plain("a", 0.25, "Aquatic Chronic 1 H410")], ["Aquatic Chronic 3 H412"],
     "Table 4.1.2, from memory"),
    ("Chronic 1 at 0.24 %", [plain("a", 0.24, "Aquatic Chronic 1 H410")], [], "Table 4.1.2, from memory"),
    ("Chronic 1 at 0.09 % is below its cut-off", [plain("a", 0.09, "Aquatic Chronic 1 H410", m_chronic=1)], [],
     "CLP Annex I 4.1.3, cut-off 0.1/M, read in reachlex.eu"),
    ("Chronic 1 at 0.01 % with M = 100", [plain("a", 0.01, "Aquatic Chronic 1 H410", m_chronic=100)],
     ["Aquatic Chronic 3 H412"], "cut-off 0.1/M read in reachlex.eu; Table 4.1.2 from memory"),
    ("Chronic 2 at 2.5 %", [plain("a", 2.5, "Aquatic Chronic 2 H411")], ["Aquatic Chronic 3 H412"],
     "Table 4.1.2, from memory"),
    ("Chronic 4 at 25 %", [plain("a", 25, "Aquatic Chronic 4 H413")], ["Aquatic Chronic 4 H413"],
     "Table 4.1.2, from memory"),
    ("acute toxicity 3 below the cut-off of 0.1 %", [plain("a", 0.09, "Acute Tox. 1 H300")], [],
     "CLP Annex I Table 1.1, from memory"),
    ("acute toxicity 1 at 0.1 %", [plain("a", 0.1, "Acute Tox. 1 H300")], ["Acute Tox. 4 H302"],
     "calculated from Table 3.1.2: 100/(0.1/0.5) = 500 mg/kg"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("ingredients", "classes", "source"), [row[1:] for row in ONE_CLASS], ids=[row[0] for row in ONE_CLASS]
)
def test_a_limit_of_the_tables_decides(ingredients, classes, source):
    found = classify(ingredients)
    assert [str(hazard) for hazard in found.classes] == classes, source
