"""One-shot, replenished and stock solutions, and toning, each from its page to what the next person reads."""

from dataclasses import replace

import pytest

from labsys.baths import service
from labsys.baths.models import Bath, BathLine, Place, Way, Work
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.ledger import queries as ledger
from labsys.products import service as products
from labsys.products.sheet import StatedAge, StatedDilution
from labsys.records import queries as records
from labsys.waste.models import Pour
from tests.baths.conftest import plan, rows
from tests.baths.counting import film
from tests.support.lab import SOURCE, SmallLab, product_entry
from tests.support.pages import fill_in, links, send, source, text


def mixed_from(client, lab: SmallLab, page: str, **fields) -> Bath:
    answer = send(client, page, {"name": "Film developer", "capacity": "3 L", "begins": "service", **fields})
    assert answer.status_code == 303, text(answer)
    lab.session.rollback()
    return lab.session.get_one(Bath, int(answer.location.rpartition("/")[2]))


def test_a_one_shot_bath_is_used_once_and_dumped(lab: SmallLab, technician, member):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    measured = rows((bottle.id, "357 mL"))
    page = plan(lab, way="one-shot")
    bath = mixed_from(technician, lab, page, **measured, water="2143 mL")
    assert bath.way is Way.ONE_SHOT
    path = f"/baths/{bath.id}"
    assert "One-shot: used once, then dumped." in text(member.get(path))
    log = f"/baths/lines/{bath.line_id}/log"
    logged = send(member, log, film(2))
    assert logged.status_code == 303
    shown = text(member.get(path))
    assert "Exhausted: do not use" in shown
    assert "Limit: one-shot. It has been used: dump it." in shown
    stopped = send(member, log, film(1), started="before")
    assert stopped.status_code == 422
    assert f"{bath.name} {bath.code} is exhausted" in text(stopped)
    undo = f"/uses/{logged.location.split('/')[2]}/undo"
    assert send(member, undo, at=logged.location).status_code == 303
    assert "Exhausted" not in text(member.get(path))  # it was not used after all
    refused = technician.get(f"{path}/replenish?volume=100+mL")
    assert "is used once and dumped" in text(refused)


@pytest.fixture
def replenisher(lab: SmallLab):
    """A weaker developer of the same kind and hazards, that tops one up."""
    product = lab.add_product(
        SolutionKind.DEVELOPER, name="PQ replenisher concentrate", dilutions=[StatedDilution(7_000, "replenishing")]
    )
    lab.ids["product developer"], kept = product.id, lab.ids["product developer"]
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    lab.ids["product developer"] = kept
    return product, bottle


# Worked by hand from the rule: 10 rolls at 25 mL each are 250 mL; a tank of 2.5 L gives up a tenth of what is in it
# each time 250 mL take the place of 250 mL: after three times 1 - 0.9³ = 27.1 % of it is replenisher.
def test_a_replenished_tank_is_made_good_by_its_rate_and_bled(lab: SmallLab, technician, member, replenisher):
    product, bottle = replenisher
    container = lab.open_container("09 01 01*")
    first = lab.add_bottle(SolutionKind.DEVELOPER)
    bath = mixed_from(technician, lab, plan(lab, way="replenished"), **rows((first.id, "357 mL")), water="2143 mL")
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    path = f"/baths/{bath.id}"
    assert f"{path}/rate" in links(source(technician.get(path)))
    rate = {"product_id": product.id, "dilution": "1+7", "volume": "25 mL", "area": "1", "unit": "units"}
    assert "Say where this is given." in text(send(technician, f"{path}/rate", rate))
    stronger = send(technician, f"{path}/rate", {**rate, "dilution": "undiluted"}, source=SOURCE)
    assert "can do more to a person than the bath's label says" in text(stronger)
    assert send(technician, f"{path}/rate", rate, source=SOURCE).status_code == 303
    for _ in range(3):
        lab.session.rollback()
        lab.log(10)  # as many as 2.5 L take by half: without the rate the third ten would be more than it takes
        page = text(technician.get(f"{path}/replenish"))
        assert "250 mL of PQ replenisher concentrate is due" in page
        shown = technician.get(f"{path}/replenish?volume=250+mL")
        assert "First bleed off 250 mL" in text(shown)
        measured = {**rows((bottle.id, "31.25 mL")), "water": "218.75 mL"}
        done = fill_in(technician, f"{path}/replenish?volume=250+mL", **measured)
        assert done.status_code == 303, text(done)
    lab.session.rollback()
    bath = lab.session.get_one(Bath, bath.id)
    assert (bath.vessel.level, container.vessel.level) == (2_500_000, 750_000)
    shown = text(member.get(path))
    assert "0 mL due. 27 % of it came in as replenisher; it has settled at 95 %." in shown
    assert "Plenty: about 25 rolls of 120" in shown
    assert lab.session.query(Pour).count() == 3
    assert ledger.wrong_levels(lab.session) == []
    assert records.find_fault(lab.session) is None

    # what cannot be
    assert "holds 3 L when full, less than the 30 L" in text(technician.get(f"{path}/replenish?volume=30+L"))
    again = f"{path}/replenish?volume=250+mL"
    too_much = fill_in(technician, again, **measured, bleed="2.6 L")
    assert "holds 2.5 L, less than the 2.6 L bled off" in text(too_much)
    unbled = fill_in(technician, f"{path}/replenish?volume=600+mL", **rows((bottle.id, "75 mL")), water="525", bleed="")
    assert unbled.status_code == 422  # 2.5 L and 0.6 L are more than the 3 L the tank holds
    lab.session.rollback()
    assert lab.session.get_one(Bath, bath.id).vessel.level == 2_500_000


@pytest.fixture
def powder(lab: SmallLab):
    """A developer sold as a powder of 100 g for a litre, and a packet of a kilogram."""
    product = lab.add_product(
        SolutionKind.DEVELOPER,
        name="MQ borax powder",
        powder_mg_per_l=100_000,
        density_mg_per_ml=None,
        dilutions=[StatedDilution(0, "film"), StatedDilution(1_000, "film, one-shot")],
        ages=[StatedAge(Holding.FULL_BOTTLE, 24 * 182, SOURCE), StatedAge(Holding.PART_FULL_BOTTLE, 24 * 30, SOURCE)],
    )
    lab.ids["product developer"] = product.id
    return lab.add_bottle(SolutionKind.DEVELOPER, amount_ul=1_000_000)


def test_working_baths_are_drawn_from_a_stock_solution_of_a_powder(lab: SmallLab, technician, powder):
    stock_plan = plan(lab, way="stock solution", dilution=0, volume="2 L", capacity="2 L", holding="full_bottle")
    stock = mixed_from(technician, lab, stock_plan, **rows((powder.id, "200 g")), water="2 L", capacity="2 L")
    assert (stock.is_stock, stock.is_spare, stock.is_waiting, stock.in_service_at) == (True, False, False, None)
    path, line = f"/baths/{stock.id}", f"/baths/lines/{stock.line_id}"
    assert "A stock solution: working baths are drawn from it." in text(technician.get(path))
    assert "Stock solutions" in text(technician.get(line))
    assert f"{path}/put-in-service" not in source(technician.get(path))
    with pytest.raises(Exception, match="is a stock solution"):
        service.put_in_service(lab.act("technician"), bath_id=stock.id)

    told = "typed_dilution=1%2B1&volume=500+mL&line_id={}&place=developer&holding=tank&capacity=600+mL&way=one-shot"
    draw = f"{path}/draw?{told.format(stock.line_id)}"
    assert "250 mL" in text(technician.get(draw))
    answer = fill_in(technician, draw, as_planned="Save as planned")
    assert answer.status_code == 303, text(answer)
    lab.session.rollback()
    drawn = lab.session.get_one(Bath, int(answer.location.rpartition("/")[2]))
    assert (drawn.way, drawn.water_parts_milli, drawn.vessel.level) == (Way.ONE_SHOT, 1_000, 500_000)
    assert lab.session.get_one(Bath, stock.id).vessel.level == 1_750_000
    assert f"250 mL from the stock solution {stock.code}" in text(technician.get(answer.location)).replace("  ", " ")
    assert "held in a part-full bottle" not in text(technician.get(path))

    large = draw.replace("500+mL", "3.6+L").replace("600+mL", "4+L")
    too_much = fill_in(technician, large, stock="1.8 L", water="1.8 L", capacity="4 L")
    assert "holds 1.75 L, less than the 1.8 L drawn from it" in text(too_much)
    rest = fill_in(technician, large, stock="1.75 L", water="1.75 L", capacity="4 L")  # to exactly empty
    assert rest.status_code == 303, text(rest)
    lab.session.rollback()
    assert lab.session.get_one(Bath, stock.id).vessel.level == 0
    assert ledger.wrong_levels(lab.session) == []
    lab.tick(days=400)  # it keeps half a year
    late = technician.get(draw)
    assert "has stood too long" in text(technician.get(late.location))
    assert "A stock solution that stood too long" in text(technician.get("/"))


def test_toning_and_colour_stand_in_lines_of_their_own_and_are_counted_apart(lab: SmallLab, technician, client_as):
    entry = product_entry(
        SolutionKind.FIXER, name="Selenium toner", capacities=[], dilutions=[StatedDilution(9_000, "prints")]
    )
    sheet = products.add_product(lab.act("technician"), sheet=replace(entry, kind=SolutionKind.TONER))
    products.confirm_product(lab.act("safety adviser"), product_id=sheet.id)
    lab.ids[f"product {SolutionKind.TONER}"] = sheet.id
    bottle = lab.add_bottle(SolutionKind.TONER)
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    asked = {"product_id": sheet.id, "dilution": 9_000, "place": "toner", "holding": "tray"}
    measured = {
        **rows((bottle.id, "100 mL")),
        "water": "900 mL",
        "name": "Toner",
        "capacity": "3 L",
        "begins": "service",
    }
    among_prints = plan(lab, "fixer", **asked, volume="1 L", line_id=lab.paper_line_id)
    refused = send(technician, among_prints, measured)
    assert "A toner stands in a line of its own" in text(refused)
    line = lab.add_line("Toning", Work.TONING)
    answer = send(technician, plan(lab, "fixer", **asked, volume="1 L", line_id=line.id), measured)
    assert answer.status_code == 303, text(answer)
    lab.log(10, size="8x10 in", material=Material.RC, line_id=lab.paper_line_id)
    lab.log(4, size="8x10 in", material=Material.RC, line_id=line.id)
    toner, fixer = lab.session.query(Bath).order_by(Bath.id.desc()).first(), lab.session.query(Bath).first()
    assert (toner.place, toner.rc_mm2, fixer.rc_mm2) == (Place.TONER, 4 * 51_613, 10 * 51_613)
    instructor = client_as("instructor")
    told = text(instructor.get("/uses/people?from=2026-03-01&to=2026-03-31"))
    assert "Toning none named RC paper, toned 1 0 4" in told
    assert "0.5 m² of film and paper so far" in text(instructor.get("/uses/amounts"))  # 10 sheets, each counted once
    for work, material in ((Work.COLOUR_FILM, Material.FILM), (Work.COLOUR_PAPER, Material.RC)):
        assert material in BathLine(work=work).work.materials


# Worked by hand: 10 of the 25 rolls that 2.5 L take went through; 500 mL of it bring a fifth of that along, 2 rolls. Of
# 2.0 L mixed fresh and 0.5 L of the old, 2.0 L count: 20 rolls, of which 18 are left.
def test_a_developer_is_seasoned_with_some_of_the_one_before(lab: SmallLab, technician, member):
    old = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(10)
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    page = plan(lab, volume="2.1 L")
    measured = {**rows((bottle.id, "300 mL")), "water": "1.7 L", "name": "Film developer", "capacity": "3 L"}
    too_much = send(technician, page, measured, begins="service", seasoned="2.6 L")
    assert "holds 2.5 L, less than the 2.6 L for seasoning" in text(too_much)
    assert 'name="seasoned"' not in source(technician.get(plan(lab, "fixer")))
    bath = mixed_from(technician, lab, page, **measured, seasoned="500 mL")
    assert (bath.vessel.level, lab.session.get_one(Bath, old.id).vessel.level) == (2_500_000, 2_000_000)
    shown = text(member.get(f"/baths/{bath.id}"))
    assert "Seasoned with 500 mL of" in shown
    assert "Plenty: about 18 rolls of 120" in shown
    assert ledger.wrong_levels(lab.session) == []
    service.undo_mixing(lab.act("technician"), bath_id=bath.id)
    assert lab.session.get_one(Bath, old.id).vessel.level == 2_500_000
    assert ledger.wrong_levels(lab.session) == []
