"""Whatever is known or not known of a product, every page, paper and act says the same of what is made from it."""

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from labsys.baths import service as baths
from labsys.baths.models import Bath
from labsys.baths.rules import PLACE_OF, Taken
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.hazards.solution import SolutionHazards
from labsys.inductions import gate
from labsys.inductions.models import Hazard
from labsys.processes import service as processes
from labsys.processes.models import Process
from labsys.products import queries, safety, service
from labsys.products import rules as product_rules
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.products.sheet import StatedDilution, StatedIngredient
from labsys.quantities import UL_PER_L
from labsys.store import service as store
from labsys.store.rules import Noted
from tests.support.assessing import begin
from tests.support.lab import HYDROQUINONE, SmallLab, product_entry
from tests.support.pages import source, text
from tests.support.safety import SHEET, add_sheet

WATER = 6_000
DILUTIONS = [StatedDilution(WATER, "film")]
RESPIRATORY = StatedIngredient("a dye", "12225-21-7", 1_000, 2_000, "Resp. Sens. 1 H334")
CODE = re.compile(r"\b(?:EUH|H)\d{3}[A-Za-z]*\b")


def _changed(lab: SmallLab, product: Product) -> None:
    """The supplier says more than before, and nobody has compared it with the SDS yet."""
    sheet = product_entry(SolutionKind.DEVELOPER, name=product.name, dilutions=DILUTIONS, h_codes="H302 H317 H318 H410")
    service.change_product(lab.act("technician"), product_id=product.id, sheet=sheet)


def _codes_unsaid(lab: SmallLab, product: Product) -> None:
    """Entered before anybody was asked what the SDS classifies it as."""
    product.h_codes = ""
    lab.session.commit()


def _chosen(lab: SmallLab, product: Product) -> None:
    """Somebody took the other of two readings, the stricter, with a reason."""
    (alternative, *_) = hazards_of(product, water_parts_milli=WATER).alternatives
    safety.choose_reading(
        lab.act("safety adviser"),
        product_id=product.id,
        water_parts_milli=WATER,
        key=alternative.key,
        takes_alternative=alternative.is_stricter,
        reason="No test of the supplier's is known.",
    )


def _interim(lab: SmallLab, product: Product) -> None:
    _changed(lab, product)
    last = (lab.now + timedelta(days=3)).date()
    safety.approve_interim(lab.act("safety adviser"), product_id=product.id, reason="A class tonight.", last_day=last)


def _newer_sds(lab: SmallLab, product: Product) -> None:
    add_sheet(lab, product.id, content=SHEET, issued_on=date(2026, 2, 1))


CARBONATE = StatedIngredient("potassium carbonate", "584-08-7", 100_000, 150_000, "Skin Irrit. 2 H315")
UNWEIGHTED = StatedIngredient("a biocide", "12225-21-7", 1_000, 2_000, "Aquatic Acute 1 H400; Aquatic Chronic 1 H410")
STRONG = [StatedIngredient(HYDROQUINONE.name, HYDROQUINONE.cas, 80_000, 100_000, HYDROQUINONE.classification)]
STATES: dict[str, tuple[dict[str, Any], Callable[[SmallLab, Product], None] | None]] = {
    "as it should be": ({}, None),
    "entries changed, not confirmed": ({}, _changed),
    "codes without ingredients": ({"ingredients": [], "h_codes": "H302 H314 H317"}, None),
    "neither codes nor ingredients": ({"ingredients": []}, _codes_unsaid),
    "ingredients of which nobody said what the SDS makes of them": ({}, _codes_unsaid),
    "not classified, no ingredients": ({"ingredients": [], "h_codes": "not classified"}, None),
    "ingredients without density": ({"density_mg_per_ml": None}, None),
    "a powder": ({"density_mg_per_ml": None, "powder_mg_per_l": 120_000}, None),
    "a sensitiser below its limit": ({"ingredients": [HYDROQUINONE]}, None),
    "an airway sensitiser alone": ({"ingredients": [RESPIRATORY], "h_codes": "EUH208"}, None),
    "an airway sensitiser by its code alone": ({"ingredients": [], "h_codes": "H334"}, None),
    "a chosen reading": ({"ingredients": STRONG}, _chosen),
    "an interim approval": ({}, _interim),
    "a newer SDS on file": ({}, _newer_sds),
    "a range of density": ({"density_mg_per_ml": 950, "density_high_mg_per_ml": 1_400}, None),
    "a pH that stays extreme": ({"ph_low_milli": 13_000, "ph_high_milli": 13_500}, None),
    "a pH that may stay extreme": ({"ph_low_milli": 12_000, "ph_high_milli": 12_000}, None),
    "a pH as used": ({"dilutions": [StatedDilution(WATER, "film", 10_500, 11_600)]}, None),
    "a mild pH": ({"ingredients": [CARBONATE], "ph_low_milli": 10_200, "ph_high_milli": 10_200}, None),
    "no pH for a base": ({"ingredients": [CARBONATE]}, None),
    "no M-factor": ({"ingredients": [UNWEIGHTED]}, None),
    "a share of unknown toxicity": ({"unknown_toxicity_ppm": 120_000}, None),
    "an ingredient without classes": ({"ingredients": [replace(CARBONATE, classification="")]}, None),
    "a flash point": ({"flash_point_milli_c": 40_000}, None),
    "an estimate of toxicity": ({"ingredients": [replace(HYDROQUINONE, ate_dermal_milli=5_000)]}, None),
}


@pytest.fixture(params=STATES.values(), ids=STATES)
def product(lab: SmallLab, request: pytest.FixtureRequest) -> Product:
    """A developer, mixed from and put into a process, before it came into its state."""
    changes, then = request.param
    made = lab.add_product(SolutionKind.DEVELOPER, **{"name": "The developer", "dilutions": DILUTIONS, **changes})
    _mixed(lab, made)
    step = processes.StepEntry(name="Develop", product_id=made.id, water_parts_milli=WATER, seconds=300)
    processes.add_process(lab.act("technician"), name="The way", material=Material.FILM, note="", steps=[step])
    if then is not None:
        then(lab, made)
    lab.session.expire_all()
    return queries.product_or_raise(lab.session, made.id)


def _mixed(lab: SmallLab, product: Product) -> None:
    wanted = product_rules.amounts(
        dilution=product_rules.dilution_of_milli(WATER), working_ul=UL_PER_L, powder_mg_per_l=product.powder_mg_per_l
    )
    bottle = store.receive_bottle(
        lab.act("technician"), product_id=product.id, amount=2 * wanted.from_bottle, noted=Noted(received_at=lab.now)
    )
    baths.mix_bath(
        lab.act("technician"),
        product_id=product.id,
        water_parts_milli=WATER,
        line_id=lab.film_line_id,
        place=PLACE_OF[SolutionKind.DEVELOPER],
        name="The bath",
        holding=Holding.TANK,
        capacity_ul=2 * UL_PER_L,
        working_ul=UL_PER_L,
        taken=[Taken(bottle.id, wanted.from_bottle)],
        water_ul=wanted.water_ul,
        in_service=True,
        mixed_at=lab.now,
    )


def codes_in(text: str) -> set[str]:
    return set(CODE.findall(text))


def between(text: str, first: str, *ends: str) -> str:
    """The words from the first on, up to whichever of the ends comes next."""
    assert first in text, first
    rest = text.partition(first)[2]
    return rest[: min(rest.index(end) for end in ends if end in rest)]


def expected(hazards: SolutionHazards) -> set[str]:
    return {single for code, _ in hazards.statements for single in code.split("+")}


@pytest.mark.sqlite_only
def test_every_page_and_paper_gives_the_dilution_the_same_statements(lab: SmallLab, client_as, product: Product):
    hazards = hazards_of(product, water_parts_milli=WATER)
    bath, process = lab.session.query(Bath).one(), lab.session.query(Process).one()
    technician = client_as("technician")

    def read(address: str) -> str:
        return source(technician.get(address))

    said = {
        "bath page": codes_in(between(read(f"/baths/{bath.id}"), "Hazards of this dilution", "When it is done")),
        "product page": codes_in(
            between(
                read(f"/store/products/{product.id}"),
                "Hazards of 1+6, with the working",
                "The working, line by line",
                "Two careful people",
                "Capacity",
                "Keeps",
                "For whoever confirms",
                "Who made it",
                "supplier's SDS, the local code",
            )
        ),
        "bath label": codes_in(read(f"/documents/bath-label/{bath.id}")),
        "sheet of labels": codes_in(read(f"/documents/labels?label=bath-{bath.id}&size=105+×+148+mm")),
        "register": codes_in(_register_row(technician)["Hazard statements"]),
    }
    assert said == dict.fromkeys(said, expected(hazards))
    plan = read(f"/plan?process_id={process.id}&size=120&count=1&blank=1")
    for code, words in hazards.statements:
        assert words.replace("'", "’") in plan or words in plan or code == "EUH210", words
    for page in (plan, read(f"/documents/bath-label/{bath.id}"), _register_row(technician)["Signal word"]):
        assert not hazards.label.signal_word or hazards.label.signal_word.lower() in page.lower()


@pytest.mark.sqlite_only
def test_every_page_and_paper_tells_what_is_not_known_of_it(lab: SmallLab, client_as, product: Product):
    hazards = hazards_of(product, water_parts_milli=WATER)
    bath, process = lab.session.query(Bath).one(), lab.session.query(Process).one()
    technician = client_as("technician")
    pages = {
        "bath page": f"/baths/{bath.id}",
        "product page": f"/store/products/{product.id}",
        "bath label": f"/documents/bath-label/{bath.id}",
        "sheet of labels": f"/documents/labels?label=bath-{bath.id}&size=105+×+148+mm",
        "plan": f"/plan?process_id={process.id}&size=120&count=1&blank=1",
        "register": "/register?q=The+developer",
    }
    told = {name: text(technician.get(address)) for name, address in pages.items()}
    told["register as CSV"] = _register_row(technician)["Not known, or assumed"]
    silent = [(name, point) for name, page in told.items() for point in hazards.declared_unknown if point not in page]
    assert silent == []


@pytest.mark.sqlite_only
def test_gate_assessment_and_protection_follow_the_same_answer(lab: SmallLab, client_as, product: Product):
    hazards = hazards_of(product, water_parts_milli=WATER)
    process = lab.session.query(Process).one()
    bath = lab.session.query(Bath).one()
    may_be_anything = bool(hazards.sensitisers) or hazards.is_not_known
    by_product = gate.hazards_by_product(lab.session, product_ids=[product.id])[product.id]
    assert (Hazard.SENSITISER in gate.hazards_of_process(process)) == may_be_anything
    assert (Hazard.SENSITISER in by_product) == may_be_anything
    (substance,) = begin(lab, process).newest.substances
    assert set(substance.codes.split()) == {*hazards.h_codes, *hazards.euh_codes} - {"EUH210"}
    assert [name for name in substance.sensitisers.split(", ") if name] == list(hazards.sensitisers)
    page = source(client_as("technician").get(f"/baths/{bath.id}"))
    planned = f"typed_dilution=1%2B6&volume=1+L&line_id={bath.line_id}&place=developer&holding=tank&capacity=2+L"
    mixing = source(client_as("technician").get(f"/baths/mix?product_id={product.id}&{planned}"))
    for protection in hazards.working.protection:
        assert protection.words in page
    for protection in hazards.pouring.protection:
        assert protection.words in mixing
    if hazards.sensitisers:
        assert any(protection.kind == "hands" for protection in hazards.working.protection)


def _register_row(client: Any) -> dict[str, str]:
    rows = csv.DictReader(
        client.get("/register.csv?q=The+developer").get_data(as_text=True).lstrip("\ufeff").splitlines()
    )
    return next(row for row in rows if row["Dilution"] == "1+6")
