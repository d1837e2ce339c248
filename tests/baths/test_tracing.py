"""The trace by lot, both ways: through what baths, stock solutions and replenishing there were, by the ledger."""

import csv
import io

import pytest
from sqlalchemy import select

from labsys.baths import replenishing
from labsys.baths import service as baths
from labsys.baths.models import Bath, Place
from labsys.baths.rules import Taken
from labsys.chemistry.care import SolutionKind
from labsys.ledger import service as ledger
from labsys.ledger.rules import MovementLine
from labsys.ledger.tracing import came_into, reached_from
from labsys.people.acts import Act, act
from labsys.quantities import UL_PER_ML
from labsys.store import service as store
from labsys.store.models import Bottle
from labsys.store.rules import Noted
from tests.support.lab import SmallLab
from tests.support.pages import links, page_at, queries_of, source
from tests.support.pages import text as words_of

PARTIAL = 500 * UL_PER_ML


def bottle(lab: SmallLab, lot: str, kind: str = "fixer") -> Bottle:
    noted = Noted(lot=lot, received_at=lab.now)
    made = store.receive_bottle(
        lab.act("technician"), product_id=lab.ids[f"product {kind}"], amount=1_000 * UL_PER_ML, noted=noted
    )
    return lab.session.get_one(Bottle, made.id)


def mixed_from(lab: SmallLab, taken: Bottle, *, in_service: bool = True) -> Bath:
    parts = [Taken(taken.id, PARTIAL)]
    return lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, taken=parts, in_service=in_service)


@act
def drawn(act: Act, *, out_of: Bath, into: Bath) -> Bath:
    """What one bath gave to another, such as a stock solution to a working bath."""
    lines = [MovementLine(out_of.vessel, -100 * UL_PER_ML), MovementLine(into.vessel, 100 * UL_PER_ML)]
    ledger.move(act, what="drawn", lines=lines, happened_at=act.now)
    act.tell("bath.replenished", about=into)
    return into


def test_a_faulty_lot_leads_to_bottles_baths_work_and_people(lab: SmallLab, client_as):
    """Two lots and one nobody noted; a bath is replenished out of the faulty one between two films."""
    faulty, spelt, unnoted, other = (bottle(lab, lot) for lot in ("AB 7714", "ав7714", "", "9999"))
    sound = mixed_from(lab, other)
    before = lab.log(1)
    replenishing.replenish(
        lab.act("technician"),
        bath_id=sound.id,
        working_ul=PARTIAL,
        taken=[Taken(faulty.id, 100 * UL_PER_ML)],
        water_ul=400 * UL_PER_ML,
        mixed_at=lab.now,
    )
    after = lab.log(2, role="instructor")
    second = mixed_from(lab, unnoted)
    own = lab.log(3)
    technician, member = client_as("technician"), client_as("member")
    found = page_at(technician, "/find?q=ab 7714")
    address = f"/lots?product_id={faulty.product_id}&lot=AB+7714"
    assert address in links(found)
    page = source(technician.get(address))
    said = words_of(technician.get(address))
    for each in (faulty, spelt, unnoted):  # Cyrillic and Latin look the same on a label
        assert each.code in page
    assert other.code not in page
    assert "ав7714" in page
    assert "Of 1 of its bottles nobody noted the lot" in said
    for bath, sure in ((sound, "of this lot"), (second, "lot not known")):
        assert bath.code in page
        assert sure in said
    rows = list(csv.reader(io.StringIO(source(technician.get(address.replace("/lots", "/lots.csv"))).lstrip("\ufeff"))))
    work = {(row[2], row[5], row[6]) for row in rows if row[0] == "work"}
    assert work == {
        ("2 of 120", lab.person("instructor").name, "of this lot"),
        ("3 of 120", lab.person("member").name, "lot not known"),
    }
    assert f"/uses/{before.id}" not in links(page)  # it went through before the lot came in
    assert f"/uses/{after.id}" in links(page)
    # a member sees what is their own, and nobody's name
    seen = words_of(member.get(address))
    assert "Your work that went through them" in seen
    assert f"/uses/{own.id}" in links(page_at(member, address))
    assert f"/uses/{after.id}" not in links(page_at(member, address))
    assert lab.person("instructor").name not in seen
    not_noted = words_of(technician.get(f"/lots?product_id={faulty.product_id}&lot="))
    assert "Lot not known" in not_noted
    assert second.code in not_noted


@pytest.mark.sqlite_only
def test_a_ruined_film_leads_back_to_bottles_and_lots(lab: SmallLab, client_as):
    line = lab.mix_film_line()
    own, theirs = lab.log(1), lab.log(1, role="instructor")
    late = bottle(lab, "LATE")
    bath = line[Place.FIXER]
    parts = [Taken(late.id, 100 * UL_PER_ML)]
    act_of = lab.act("technician")
    replenishing.replenish(
        act_of, bath_id=bath.id, working_ul=PARTIAL, taken=parts, water_ul=400 * UL_PER_ML, mixed_at=lab.now
    )
    member = client_as("member")
    assert f"/uses/{own.id}/trace" in links(page_at(member, f"/uses/{own.id}"))
    page = page_at(member, f"/uses/{own.id}/trace")
    for each in lab.session.execute(select(Bottle).where(Bottle.lot == "LOT 1")).scalars():
        assert each.code in page
        assert f"/lots?product_id={each.product_id}&lot=LOT+1" in links(page)
    assert late.code not in page  # it came in after the film
    assert member.get(f"/uses/{theirs.id}/trace").status_code == 403
    assert queries_of(client_as("instructor"), f"/uses/{theirs.id}/trace") <= 20


def test_stock_solutions_are_followed_and_what_was_undone_is_not(lab: SmallLab):
    source_bottle = bottle(lab, "S")
    stock, working, undone = (mixed_from(lab, bottle(lab, "O"), in_service=False) for _ in range(3))
    first = mixed_from(lab, source_bottle, in_service=False)
    drawn(lab.act("technician"), out_of=first, into=stock)
    drawn(lab.act("technician"), out_of=stock, into=working)
    drawn(lab.act("technician"), out_of=undone, into=first)  # into it, not out of it
    taken_back = mixed_from(lab, source_bottle, in_service=False)
    baths.undo_mixing(lab.act("technician"), bath_id=taken_back.id)
    reached = reached_from(lab.session, [source_bottle.vessel_id])
    assert set(reached) == {each.vessel_id for each in (source_bottle, first, stock, working)}
    assert reached[first.vessel_id] < reached[stock.vessel_id] < reached[working.vessel_id]
    back = came_into(lab.session, [working.vessel_id], until=lab.now)[working.vessel_id]
    assert {source_bottle.vessel_id, first.vessel_id, stock.vessel_id, undone.vessel_id} - back == {undone.vessel_id}
