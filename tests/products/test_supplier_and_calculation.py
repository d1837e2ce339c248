"""The supplier's classes and the calculation's, as people read them: who stands where, and where the two differ."""

from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from labsys.chemistry.care import SolutionKind
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.products.sheet import StatedDilution, StatedIngredient
from tests.support.lab import HYDROQUINONE, SmallLab
from tests.support.pages import send, text
from tests.support.store import product_fields

pytestmark = pytest.mark.sqlite_only

ClientAs = Callable[..., FlaskClient]
QUINOL = HYDROQUINONE.classification
LYE_LIMITS = "Skin Corr. 1A H314: C>=5; Skin Corr. 1B H314: C>=2; Skin Irrit. 2 H315: C>=0.5; Eye Irrit. 2 H319: C>=0.5"


def part(cas: str, percent: float, classes: str, limits: str = "", **more: Any) -> StatedIngredient:
    ppm = round(percent * 10_000)
    return StatedIngredient(f"substance {cas}", cas, ppm, ppm, classes, limits, **more)


def lye(percent: float) -> StatedIngredient:
    return part("1310-73-2", percent, "Skin Corr. 1A H314", LYE_LIMITS)


def a_product(lab: SmallLab, *ingredients: StatedIngredient, water: int = 9_000, **changes: Any) -> Product:
    """A liquid that weighs what water does, so that 1+9 is a tenth of it by mass too."""
    entry = {"density_mg_per_ml": 998, "dilutions": [StatedDilution(water, "film")], "name": "The liquid", **changes}
    return lab.add_product(SolutionKind.DEVELOPER, ingredients=list(ingredients), **entry)


def page_of(client_as: ClientAs, product: Product) -> str:
    return " ".join(text(client_as("member").get(f"/store/products/{product.id}")).split())


def as_supplied(client_as: ClientAs, product: Product) -> str:
    return page_of(client_as, product).partition("Hazards, as supplied")[2].partition("From the SDS")[0]


def diluted(client_as: ClientAs, product: Product) -> str:
    return page_of(client_as, product).partition(", with the working")[2].partition("Capacity")[0]


def label_of(lab: SmallLab, client_as: ClientAs, *, water_parts: int) -> str:
    bath = lab.mix(SolutionKind.DEVELOPER, water_parts=water_parts, working_ml=1_000)
    return " ".join(text(client_as("technician").get(f"/documents/bath-label/{bath.id}")).split())


# As supplied


def test_a_class_the_supplier_declares_stands_and_the_difference_is_named(lab: SmallLab, client_as: ClientAs):
    """Hydroquinone 0.5 %: Carc. 2 only from 1 % (CLP Annex I Table 3.6.2, from memory); the supplier says H351."""
    told = as_supplied(client_as, a_product(lab, part("123-31-9", 0.5, QUINOL), h_codes="H351"))
    assert "H351 Suspected of causing cancer." in told
    assert "The supplier’s classes stand for what is in the bottle." in told
    assert "Cancer: the supplier says H351 (Suspected of causing cancer), the calculation gives none." in told
    assert "stricter by calculation" not in told


def test_a_calculation_that_warns_of_more_stands_beside_and_says_so(lab: SmallLab, client_as: ClientAs):
    """Hydroquinone 5 %: Eye Dam. 1 from 3 % (Table 3.3.3), Muta. 2 and Carc. 2 from 1 %, from memory."""
    told = as_supplied(
        client_as, a_product(lab, part("123-31-9", 5, QUINOL, m_acute=10), h_codes="H317 H319 H351 H400")
    )
    assert "Eyes: the supplier says H319 (Causes serious eye irritation), the calculation gives H318" in told
    assert "Genes: the supplier says nothing, the calculation gives H341" in told
    assert told.count("stricter by calculation") == 2
    assert "Cancer: the supplier" not in told
    assert "Causes serious eye irritation." in told.partition("The supplier’s classes stand")[0]
    assert "H318" not in told.partition("The supplier’s classes stand")[0]


def test_where_both_say_the_same_the_page_makes_no_noise(lab: SmallLab, client_as: ClientAs):
    told = as_supplied(client_as, a_product(lab, part("64-19-7", 30, "Skin Corr. 1A H314"), h_codes="H314"))
    assert "it comes to the same as the supplier says" in told
    assert "The supplier’s classes stand" not in told


def test_used_as_it_comes_it_is_the_liquid_that_the_supplier_classified(lab: SmallLab, client_as: ClientAs):
    product = a_product(lab, part("123-31-9", 0.5, QUINOL), h_codes="H319 H351", water=0)
    lab.ids["product developer"] = product.id
    assert "Suspected of causing cancer." in label_of(lab, client_as, water_parts=0)


# Fire, and gases freed by acid

BLEACH = part("7681-52-9", 5, "Skin Corr. 1B H314; Aquatic Acute 1 H400; Aquatic Chronic 1 H410")


def test_a_gas_freed_by_acid_is_told_though_the_sheet_leaves_it_out(lab: SmallLab, client_as: ClientAs):
    """Hypochlorite from 5 % active chlorine: EUH031 (Annex VI 017-011-00-1, from memory); the sheet has only H314."""
    product = a_product(lab, BLEACH, h_codes="H314 H410", water=19_000)
    told = as_supplied(client_as, product)
    assert "Keep away from acids: substance 7681-52-9 with acid frees chlorine." in told
    assert "Gas with acid: the supplier says nothing, the calculation gives EUH031" in told
    assert "Keep away from acids: substance 7681-52-9 with acid frees chlorine." in diluted(client_as, product)


def test_one_gas_on_the_sheet_does_not_silence_the_other(lab: SmallLab, client_as: ClientAs):
    """A bleach-fix of ferricyanide and thiosulfate: the sheet names the milder gas alone."""
    parts = [part("13746-66-2", 5, "not classified"), part("7783-18-8", 20, "not classified")]
    told = as_supplied(client_as, a_product(lab, *parts, h_codes="EUH031"))
    assert "Keep away from acids: substance 13746-66-2 with acid frees hydrogen cyanide." in told
    assert "sulfur dioxide" not in told


def test_a_flash_point_without_its_class_is_named_and_keeps_flames_away(lab: SmallLab, client_as: ClientAs):
    """Flash point 19 °C: Flam. Liq. 2 or 1 below 23 °C (CLP Annex I Table 2.6.1, from memory)."""
    alcohol = part("67-63-0", 50, "Flam. Liq. 2 H225; Eye Irrit. 2 H319; STOT SE 3 H336")
    product = a_product(lab, alcohol, h_codes="H319 H336", flash_point_milli_c=19_000)
    told = as_supplied(client_as, product)
    assert "Fire: the supplier says nothing, the calculation gives H225" in told
    assert "its vapour can catch fire" in told
    assert "H225" not in told.partition("The supplier’s classes stand")[0]


def test_what_is_used_undiluted_is_not_called_an_estimate(lab: SmallLab, client_as: ClientAs):
    told = diluted(client_as, a_product(lab, lye(5), h_codes="H314", water=0))
    assert "Undiluted: what its supplier says of it." in told
    assert "estimate" not in told


# An extreme pH


def test_an_extreme_ph_decides_where_nothing_answers_it(lab: SmallLab, client_as: ClientAs):
    """CLP Annex I 3.2.3.1.2, read: pH 11.5 and above is corrosive where nothing else is known. H290 is no answer."""
    product = a_product(lab, lye(0.4), h_codes="H290", ph_low_milli=13_000, ph_high_milli=13_000, water=0)
    lab.ids["product developer"] = product.id
    told = as_supplied(client_as, product)
    assert "H314 Causes severe skin burns and eye damage." in told
    assert "nothing that its supplier says of skin and eyes answers that: taken as H314" in told
    assert "severe skin burns" in label_of(lab, client_as, water_parts=0)


def test_the_suppliers_own_class_answers_an_extreme_ph(lab: SmallLab, client_as: ClientAs):
    """Lye 0.6 %, pH 13.2 as supplied and 12.9 at 1+1: the supplier, who knows, says H315 and H319."""
    strong, used = {"ph_low_milli": 13_200, "ph_high_milli": 13_200}, [StatedDilution(1_000, "film", 12_900, 12_900)]
    product = a_product(lab, lye(0.6), h_codes="H315 H319", dilutions=used, **strong)
    told = as_supplied(client_as, product)
    assert "H315 Causes skin irritation." in told
    assert "Skin: the supplier says H315 (Causes skin irritation), the calculation gives H314" in told
    of_dilution = diluted(client_as, product)
    assert "the supplier states pH 13.2 for the product and classifies it H315 H319, not H314" in of_dilution
    assert "The other reading: Skin Corr. 1 H314, Eye Dam. 1 H318" in of_dilution
    assert "H315 Causes skin irritation." in of_dilution  # the pH is extreme still, so what was said of it holds
    assert "H314" not in of_dilution.partition("Two careful people")[0]


# The table that does not add up


MILD = [
    # 7 % carbonate, Eye Irrit. 2 (Annex VI 011-005-00-2, read): pH 10.2 is not extreme
    ([part("497-19-8", 70, "Eye Irrit. 2 H319"), part("123-31-9", 12, QUINOL, m_acute=10)], 10_200),
    # 2 % acetic acid: its own limits begin at 10 % (Annex VI 607-002-00-6, read)
    ([part("64-19-7", 20, "Skin Corr. 1A H314")], 2_600),
]


@pytest.mark.parametrize(("ingredients", "ph"), MILD, ids=["carbonate developer at pH 10.2", "2 % acetic stop"])
def test_a_mild_bath_does_not_become_corrosive(lab: SmallLab, client_as: ClientAs, ingredients, ph):
    product = a_product(lab, *ingredients, h_codes="H319", dilutions=[StatedDilution(9_000, "film", ph, ph)])
    assert "H314" not in diluted(client_as, product)
    assert "severe skin burns" not in label_of(lab, client_as, water_parts=9)


def test_the_cautious_published_example_is_shown_and_is_not_everybodys_default(lab: SmallLab, client_as: ClientAs):
    """UN ST/SG/AC.10/C.4/2008/23, 3.2.3.3(a): 4 % Skin Cat. 1, 5 % Cat. 2, pH 4: category 1, by a cautious choice."""
    acid, irritant = part("7664-38-2", 40, "Skin Corr. 1 H314"), part("57-55-6", 50, "Skin Irrit. 2 H315")
    product = a_product(lab, acid, irritant, h_codes="H314", dilutions=[StatedDilution(9_000, "film", 4_000, 4_000)])
    lab.ids["product developer"] = product.id
    told = diluted(client_as, product)
    assert "H315 Causes skin irritation." in told
    assert "H318 Causes serious eye damage." in told
    assert "a cautious reading of CLP takes 1 % as enough for Skin Corr. 1 H314: ask the supplier." in told
    label = label_of(lab, client_as, water_parts=9)
    assert "takes 1 % as enough" in label
    assert "severe skin burns" not in label


def test_of_a_phenol_the_usual_reading_stands_and_the_stricter_is_beside_it(lab: SmallLab, client_as: ClientAs):
    """Hydroquinone 2 %: Eye Irrit. 2 by the sum (3 %), Eye Dam. 1 alone from 1 % (Tables 3.3.3, 3.3.4, from memory)."""
    told = diluted(client_as, a_product(lab, part("123-31-9", 20, QUINOL, m_acute=10), h_codes="H318 H351"))
    assert "Eye Irrit. 2 H319 stands the usual reading of the rule, until somebody chooses and says why." in told
    assert "The other reading: Eye Dam. 1 H318." in told


# Acute toxicity, and figures on the limit


def test_the_un_reading_of_acute_toxicity_is_beside_clps(lab: SmallLab, client_as: ClientAs):
    """UN ST/SG/AC.10/C.4/2008/23, 3.1(a), at a tenth of ten times as much: ATE 1880, Category 4; CLP 3333: none.

    Powder figures: 16 %, 4 % and 80 % with LD50 1600, 200 and 3450 mg/kg, of a liquid used as it comes.
    """
    estimates = ((16, 1600), (4, 200), (80, 3450))
    parts = [
        part(cas, percent, "not classified", ate_oral_milli=ate * 1_000)
        for cas, (percent, ate) in zip(("57-55-6", "56-81-5", "77-99-6"), estimates, strict=True)
    ]
    told = diluted(client_as, a_product(lab, *parts, h_codes="not classified", water=0))
    assert "Not classified as hazardous by calculation." in told
    assert "The other reading: Acute Tox. 4 H302." in told
    assert "ATE 1880 mg/kg with the ingredients of the UN's Category 5" in told
    assert "ATE of the mixture 3333 mg/kg" in told


def test_a_figure_within_its_error_of_a_limit_is_said_to_lie_on_it(lab: SmallLab, client_as: ClientAs):
    """Typed as it was measured: 9.7 ± 0.5 %, at a tenth 0.97 ± 0.05 % against the 1 % of Carc. 2."""
    typed = product_fields(
        **{
            "kind": "developer",
            "waste_code": "09 01 01*",
            "h_codes": "H351",
            "density": "0.998",
            "ph_limit": "",
            "ingredients-0-cas": "123-31-9",
            "ingredients-0-name": "hydroquinone",
            "ingredients-0-content": "9.7 ± 0.5 %",
            "ingredients-0-classification": "Carc. 2 H351",
            "ingredients-0-specific_limits": "",
            "dilutions-0-dilution": "1+9",
            "capacities-0-dilution": "1+9",
        }
    )
    answer = send(client_as("technician"), "/store/products/add", typed)
    assert answer.status_code == 303, text(answer)
    product = lab.session.query(Product).filter_by(name="Citric stop concentrate").one()
    told = diluted(client_as, product)
    assert "H351 Suspected of causing cancer." in told
    assert "On the limit: Carc. 2 H351 hangs on hydroquinone 0.97 ± 0.05 % against 1 %." in told


def test_euh071_follows_from_an_ingredient_that_burns_the_airways(lab: SmallLab, client_as: ClientAs):
    """Formaldehyde 26 % carries it from 25 % on in the GB list (8th version, read)."""
    entry = "Carc. 1B H350; Acute Tox. 2 H330; Skin Corr. 1B H314; Skin Sens. 1A H317; EUH071"
    client = client_as("safety adviser")
    typed = product_fields(
        **{
            "h_codes": "",
            "ingredients-0-cas": "50-00-0",
            "ingredients-0-name": "formaldehyde",
            "ingredients-0-content": "26 %",
            "ingredients-0-classification": entry,
            "ingredients-0-specific_limits": "",
            "dilutions-0-dilution": "stock",
            "capacities-0-dilution": "stock",
            "restricted_reason": "Kept for one process that has no other stabiliser.",
        }
    )
    answer = send(client, "/store/products/add", typed)
    assert answer.status_code == 303, text(answer)
    told = diluted(client_as, lab.session.query(Product).filter_by(name="Citric stop concentrate").one())
    assert "EUH071 Corrosive to the respiratory tract." in told


@pytest.mark.parametrize(
    ("classes", "below"),
    [
        # EU Annex VI 604-005-00-4, ATP01, as in the shipped table: Carc. 2, Muta. 2, Acute Tox. 4*, Eye Dam. 1,
        # Skin Sens. 1, Aquatic Acute 1; acute M-factor 10
        (QUINOL.replace("; Carc. 2 H351", ""), "Carc. 2 H351 (GB list, entry 604-005-00-4"),
        (QUINOL.replace("Eye Dam. 1 H318", "Eye Irrit. 2 H319"), "Eye Dam. 1 H318 (GB list"),
        (
            "not classified",
            "Carc. 2 H351; Muta. 2 H341; Acute Tox. 4 H302; Eye Dam. 1 H318; Skin Sens. 1 H317; Aquatic",
        ),
        (QUINOL, ""),
        (
            QUINOL.replace("Skin Sens. 1 H317", "Skin Sens. 1A H317").replace("Acute Tox. 4 H302", "Acute Tox. 3 H301"),
            "",
        ),
        ("", ""),  # the list's own stand in
    ],
)
def test_an_entry_below_the_published_list_is_named_where_it_is_confirmed(lab, client_as, classes, below):
    quinol = part("123-31-9", 4, classes, m_acute=10)
    product = a_product(lab, quinol, confirmed=False)
    page = text(client_as("safety adviser").get(f"/store/products/{product.id}"))
    to_confirm = page.partition("Confirm these entries")[2]
    if below:
        assert f"substance 123-31-9: look twice Entered below the published list: {below}" in " ".join(
            to_confirm.split()
        )
    else:
        assert "below the published list" not in page
    assert "Confirm: they agree with the SDS" in to_confirm


def test_an_m_factor_below_the_published_list_is_named_too(lab, client_as):
    product = a_product(lab, part("123-31-9", 4, QUINOL, m_acute=1), confirmed=False)
    page = text(client_as("safety adviser").get(f"/store/products/{product.id}"))
    assert "Entered below the published list: M-factor acute 10 (GB list" in page


def test_what_is_declared_and_not_explained_stays_open_for_the_dilution(lab: SmallLab, client_as: ClientAs):
    """An ingredient the supplier calls harmless explains no H314: diluted, nobody knows, and page and label say so."""
    product = a_product(lab, part("7783-18-8", 50, "not classified"), h_codes="H314 H335")
    assert "Declared, but not known of this dilution: skin, irritated airways." in diluted(client_as, product)
    handled = hazards_of(product, water_parts_milli=9_000)
    assert handled.handled_as == ("H314", "H335")  # until it is known, protection is chosen as if it burned
    assert "Waterproof apron" in str(handled.working)
    of_the_lab = label_of(lab, client_as, water_parts=9)  # its developer declares H302 and H410, of hydroquinone alone
    assert "Declared, but not known of this dilution: swallowing, water life, lasting." in of_the_lab


def test_what_the_ingredients_explain_is_not_called_open(lab: SmallLab, client_as: ClientAs):
    product = a_product(lab, lye(5), h_codes="H314")
    assert "Declared, but not known" not in diluted(client_as, product)
