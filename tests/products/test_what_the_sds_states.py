"""What is typed from an SDS reaches bath page and label; what is not stated is told there, never the mild side."""

import pytest

from labsys.baths import service as baths
from labsys.baths.models import Bath
from labsys.baths.rules import PLACE_OF, Taken
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.products import service as products
from labsys.products.models import Product
from labsys.products.rules import read_dilution
from labsys.quantities import UL_PER_L
from labsys.store import service as store
from labsys.store.rules import Noted
from tests.planning.furnishing import add_film_process, step_at_20
from tests.support.lab import SmallLab
from tests.support.pages import as_it_stands, form_of, send, source, text
from tests.support.store import product_fields

ADD = "/store/products/add"
NAME = "The solution"
STOCK, TENFOLD = "1+0", "1+9"


def typed(*, dilution: str = STOCK, ph_used: str = "", **changes: str) -> dict[str, str]:
    """A developer with one dilution, as a technician types it; the ingredient is what a case says it is."""
    fields = {
        name: text
        for name, text in product_fields().items()
        if not name.startswith(("ingredients-", "dilutions-", "capacities-", "ages-"))
    }
    plain = {"name": NAME, "kind": "developer", "waste_code": "09 01 01*", "density": "1.00"}
    plain["h_codes"] = "not classified"
    of = {"dilutions-0-dilution": dilution, "dilutions-0-use": "film", "dilutions-0-ph": ph_used}
    return fields | plain | of | {"ph_limit": ""} | changes


def ingredient(cas: str, content: str, classes: str, **more: str) -> dict[str, str]:
    row = {"cas": cas, "name": f"substance {cas}", "content": content, "classification": classes, **more}
    return {f"ingredients-0-{name}": told for name, told in row.items()}


def lye(content: str, **more: str) -> dict[str, str]:
    # CLP Annex VI 011-002-00-6, from memory; its limits are typed, as an SDS gives them
    limits = "Skin Corr. 1A H314: C >= 5; Skin Corr. 1B H314: 2 <= C < 5; Skin Irrit. 2 H315: 0.5 <= C < 2"
    return ingredient("1310-73-2", content, "Skin Corr. 1A H314", specific_limits=limits) | more


# CLP Annex VI as amended by Regulation (EU) 2016/1179, from memory
BLUESTONE = "Acute Tox. 4 H302; Eye Dam. 1 H318; Aquatic Acute 1 H400; Aquatic Chronic 1 H410"
METOL = "Acute Tox. 4 H302; Skin Sens. 1 H317; STOT RE 2 H373; Aquatic Acute 1 H400; Aquatic Chronic 1 H410"
CARBONATE = "Skin Irrit. 2 H315; Eye Irrit. 2 H319"


def mixed(lab: SmallLab, client_as, fields: dict[str, str]) -> Bath:
    """Type the product in as a technician, have it confirmed, and mix a litre of it at its dilution."""
    answer = send(client_as("technician"), ADD, fields)
    assert answer.status_code == 303, text(answer)
    product = db.session.query(Product).filter_by(name=NAME).one()
    products.confirm_product(lab.act("safety adviser"), product_id=product.id)
    water = read_dilution(fields["dilutions-0-dilution"])
    concentrate = UL_PER_L * 1_000 // (1_000 + water)
    bottle = store.receive_bottle(
        lab.act("technician"), product_id=product.id, amount=2 * UL_PER_L, noted=Noted(received_at=lab.now)
    )
    return baths.mix_bath(
        lab.act("technician"),
        product_id=product.id,
        water_parts_milli=water,
        line_id=lab.film_line_id,
        place=PLACE_OF[SolutionKind.DEVELOPER],
        name="The bath",
        holding=Holding.TANK,
        capacity_ul=2 * UL_PER_L,
        working_ul=UL_PER_L,
        taken=[Taken(bottle.id, concentrate)],
        water_ul=UL_PER_L - concentrate,
        in_service=True,
        mixed_at=lab.now,
    )


NO_PH = "No pH is stated, and it contains substance 1310-73-2."
NOT_AS_USED = "The pH as used is not stated."
ASSUMED = "No density is stated: 1 to 1.45 g/mL is assumed, as a developer can have"
NO_FACTOR = "no M-factor is known for substance 55-55-0"
CASES: dict[str, tuple[dict[str, str], tuple[str, ...], tuple[str, ...]]] = {  # typed; what page and label say; and not
    "0.4 % lye, pH 13 (CLP 3.2.3.1.2)": (typed(ph="13", **lye("0.4 %")), ("H314",), (NO_PH,)),
    "0.4 % lye, pH 13 measured as used": (typed(ph_used="12.9-13.1", **lye("0.4 %")), ("H314",), (NO_PH,)),
    "0.4 % lye, pH from mild to 11.5: both ends worked": (typed(ph="10.9-11.5", **lye("0.4 %")), ("H314",), (NO_PH,)),
    "0.4 % lye, no pH": (typed(**lye("0.4 %")), (NO_PH,), ("H314",)),
    "4 % lye, diluted tenfold: pH 14 comes to 13 at least": (
        typed(dilution=TENFOLD, ph="14", **lye("4 %")),
        ("H314",),
        (NOT_AS_USED,),
    ),
    "pH 12, diluted tenfold: 11 to 12": (typed(dilution=TENFOLD, ph="12", **lye("4 %")), (NOT_AS_USED,), ("H314",)),
    "pH 12, diluted tenfold, 11 measured": (
        typed(dilution=TENFOLD, ph="12", ph_used="11", **lye("4 %")),
        (),
        ("H314", NOT_AS_USED, NO_PH),
    ),
    "carbonate, pH 10.2, diluted": (
        typed(dilution=TENFOLD, ph="10.2", **ingredient("497-19-8", "5-10 %", CARBONATE)),
        (),
        ("pH as used is not stated", "No pH is stated", "H314"),
    ),
    "bluestone 24.5 %, the list's estimate: 100 × 481 / 24.5 = 1963 mg/kg": (
        typed(**ingredient("7758-99-8", "24.5 %", BLUESTONE)),
        ("H302",),
        (),
    ),
    "bluestone 24.5 %, its own estimate: 100 × 600 / 24.5 = 2449 mg/kg": (
        typed(**ingredient("7758-99-8", "24.5 %", BLUESTONE, ate_oral="600")),
        (),
        ("H302",),
    ),
    "worse by class than on the list: the SDS wins, 100 × 100 / 10 = 1000 mg/kg": (
        typed(**ingredient("7758-99-8", "10 %", BLUESTONE.replace("4 H302", "3 H301"))),
        ("H302",),
        (),
    ),
    "an estimate milder than its class: the class counts, 100 × 100 / 30 = 333 mg/kg": (
        typed(**ingredient("12225-21-7", "30 %", "Acute Tox. 3 H301", ate_oral="1500")),
        ("H302",),
        (),
    ),
    "an estimate for dust or mist: 100 × 0.2 / 10 = 2 mg/L, category 4": (
        typed(**ingredient("12225-21-7", "10 %", "Acute Tox. 2 H330", ate_dust_mist="0.2")),
        ("H332",),
        (),
    ),
    "4.5 % lye 1+9 at 1.00 g/mL: 0.45 %, under the limit of 0.5 %": (
        typed(dilution=TENFOLD, ph="11", **lye("4.5 %")),
        (),
        ("H315", ASSUMED),
    ),
    "at 0.95 to 1.30 g/mL: up to 0.57 %": (
        typed(dilution=TENFOLD, ph="11", density="0.95-1.30", **lye("4.5 %")),
        ("H315",),
        (ASSUMED,),
    ),
    "density not stated": (typed(dilution=TENFOLD, ph="11", density="", **lye("4.5 %")), ("H315", ASSUMED), ()),
    "M-factor not stated, nor on the list": (typed(**ingredient("55-55-0", "1-2 %", METOL)), (NO_FACTOR,), ("H400",)),
    "M-factor stated": (
        typed(**ingredient("55-55-0", "1-2 %", METOL, m_acute="10", m_chronic="10")),
        ("H411",),
        (NO_FACTOR,),
    ),
    "an ingredient of which nothing is entered": (
        typed(**ingredient("12225-21-7", "3 %", "")),
        ("What substance 12225-21-7 can do is not stated",),
        (),
    ),
    "an ingredient entered as not classified": (
        typed(**ingredient("12225-21-7", "3 %", "Not classified")),
        (),
        ("is not stated", "unknown"),
    ),
    "no ingredients": (
        typed(),
        ("No ingredients are entered, so nothing could be worked out",),
        ("by calculation", "no declared ingredient"),
    ),
    "a share of unknown toxicity": (
        typed(unknown_toxicity="12", **lye("4.5 %")),
        ("12 % of the mixture consists of ingredients of unknown acute oral toxicity",),
        (),
    ),
    "a flash point": (typed(flash_point="21", **lye("0.4 %")), ("H225",), ()),
    "a flash point of the product, diluted": (
        typed(dilution=TENFOLD, flash_point="-4", **lye("0.4 %")),
        ("The product's flash point is -4 °C; that of this dilution is not known",),
        ("H225",),
    ),
}


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("fields", "said", "unsaid"), CASES.values(), ids=CASES)
def test_what_is_typed_decides_what_bath_page_and_label_say(lab: SmallLab, client_as, fields, said, unsaid):
    bath = mixed(lab, client_as, fields)
    technician = client_as("technician")
    for address in (f"/baths/{bath.id}", f"/documents/bath-label/{bath.id}"):
        page = text(technician.get(address))
        assert [words for words in said if words not in page] == [], address
        assert [words for words in unsaid if words in page] == [], address


AS_IF = "what to wear is chosen on that assumption"
APRON = "Waterproof apron"
PROTECTED = {  # typed; whether protection is chosen as if it burned, though nothing says that it does
    "pH 12, diluted tenfold: 11 to 12": (typed(dilution=TENFOLD, ph="12", **lye("4 %")), True),
    "no pH, and lye in it": (typed(**lye("0.4 %")), True),
    "pH 12, diluted tenfold, 11 measured": (typed(dilution=TENFOLD, ph="12", ph_used="11", **lye("4 %")), False),
    "pH 10.9": (typed(dilution=TENFOLD, ph="10.9", **lye("4 %")), False),
    "no pH, and a carbonate in it": (typed(**ingredient("497-19-8", "5-10 %", CARBONATE)), False),
}


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("fields", "is_raised"), PROTECTED.values(), ids=PROTECTED)
def test_a_ph_that_may_be_extreme_raises_protection_and_says_that_it_is_an_assumption(
    lab: SmallLab, client_as, fields, is_raised
):
    """CLP 3.2.3.1.2: 2 or less, 11.5 or more; what nobody rules out is never the mild side."""
    bath = mixed(lab, client_as, fields)
    technician = client_as("technician")
    for address in (f"/baths/{bath.id}", f"/documents/bath-label/{bath.id}"):
        page = text(technician.get(address))
        assert (APRON in page, AS_IF in page) == (is_raised, is_raised), address
    step = step_at_20("Develop", product_id=bath.product_id, water_parts_milli=bath.water_parts_milli, seconds=480)
    process = add_film_process(lab, steps=[step])
    plan = text(technician.get(f"/plan?process_id={process.id}&size=120&count=2&volume=1 L"))
    assert bath.code in plan  # nothing is poured from the bottle, which may burn by itself
    assert (APRON in plan, AS_IF in plan) == (is_raised, is_raised)


SEEN_AGAIN = {
    "density": "1.2-1.25",
    "ph": "12-14",
    "flash_point": "-4",
    "viscosity": "7.5",
    "unknown_toxicity": "2.5",
    "ingredients-0-ate_oral": "481",
    "ingredients-0-ate_dermal": "1100.5",
    "ingredients-0-ate_gas": "700",
    "ingredients-0-ate_vapour": "3",
    "ingredients-0-ate_dust_mist": "0.05",
    "ingredients-0-workplace_limit": "2 mg/m³ over 15 minutes",
    "dilutions-0-ph": "10.2",
}


def test_what_was_typed_is_kept_shown_and_comes_back_to_be_changed(lab: SmallLab, client_as):
    client = client_as("technician")
    fields = typed(**lye("0.4 %")) | SEEN_AGAIN | {"ph": "> 12", "flash_point": "−4"}
    answer = send(client, ADD, fields)
    assert answer.status_code == 303, text(answer)
    product = db.session.query(Product).filter_by(name=NAME).one()
    assert (product.ph_low_milli, product.ph_high_milli, product.flash_point_milli_c) == (12_000, 14_000, -4_000)
    assert (product.ingredients[0].ate_dust_mist_milli, product.dilutions[0].ph_high_milli) == (50, 10_200)
    again = as_it_stands(form_of(source(client.get(f"/store/products/{product.id}/change"))))
    assert {name: again[name] for name in SEEN_AGAIN} == SEEN_AGAIN
    substance = text(client.get("/register/substances/1310-73-2"))
    assert "Workplace limit, by its SDS: 2 mg/m³ over 15 minutes" in substance
    page = text(client.get(answer.location))
    for words in (
        "Liquid, 1.2-1.25 g/mL",
        "12-14",
        "-4 °C",
        "7.5 mm²/s",
        "2.5 % of it",
        "ATE oral 481 mg/kg",
        "2 mg/m³",
    ):
        assert words in page


def test_a_ph_as_used_has_to_be_confirmed_again(lab: SmallLab, client_as):
    product_id = lab.ids["product stop"]
    address = f"/store/products/{product_id}/change"
    technician = client_as("technician")
    begin = as_it_stands(form_of(source(technician.get(address))))
    assert send(technician, address, begin | {"dilutions-0-ph": "2.6"}).status_code == 303
    product = db.session.get_one(Product, product_id, populate_existing=True)
    assert (product.dilutions[0].ph_low_milli, product.confirmation) == (2_600, None)


@pytest.mark.sqlite_only
def test_a_product_of_before_with_one_figure_of_density_is_worked_as_before(lab: SmallLab, client_as):
    """Its row has no second end: the figure is both."""
    product = db.session.get_one(Product, lab.ids["product stop"])
    assert (product.density_mg_per_ml, product.density_high_mg_per_ml) == (1_050, None)
    page = text(client_as("technician").get(f"/store/products/{product.id}"))
    assert "Liquid, 1.05 g/mL" in page
    assert "is assumed" not in page


@pytest.mark.sqlite_only
def test_not_classified_agrees_with_a_list_that_has_no_class_for_it(lab: SmallLab, client_as):
    client = client_as("technician")
    send(client, ADD, typed(**ingredient("7783-18-8", "50-60 %", "not classified")))
    assert "differs from the reference" not in text(client.get("/register/substances/7783-18-8"))
