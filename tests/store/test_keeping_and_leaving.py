"""Bottles from their delivery to their end: a case, how long they keep, what is set apart, thrown away or counted."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select, text, update
from sqlalchemy.exc import IntegrityError

from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Unit, VesselKind
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.store import service
from labsys.store.models import Bottle, BottleCorrection, BottleLeft, BottleQuarantine, ShelfLife, UnlabelledBottle
from labsys.store.rules import Noted, last_good_day
from tests.support.lab import START, SmallLab
from tests.support.pages import hidden, page_at, send
from tests.support.pages import text as words_of
from tests.support.safety import put_on_shelf
from tests.support.store import NOW, add_waiting

TODAY = NOW.date()
LONDON = ZoneInfo("Europe/London")


def bottle_of(lab: SmallLab, *, expires_on: date | None = None, amount: int = UL_PER_L, lot: str = "") -> Bottle:
    noted = Noted(received_at=START, expires_on=expires_on, lot=lot)
    made = service.receive_bottle(
        lab.act("technician", now=START), product_id=lab.ids["product fixer"], amount=amount, noted=noted
    )
    return db.session.get_one(Bottle, made.id)


def check_whole() -> dict[Account, int]:
    """The ledger adds up; what went through each account of liquids so far."""
    assert ledger.wrong_levels(db.session) == []
    assert ledger.unbalanced_movements(db.session) == []
    balance = ledger.balances(db.session, start=START - timedelta(days=1), end=NOW + timedelta(days=1))[Unit.UL]
    assert balance.difference == 0
    return balance.accounts


@pytest.mark.parametrize(
    ("expires_on", "opened_days_ago", "closed_days", "open_days", "last_day"),
    [
        (None, None, None, None, None),  # nothing is stated: not known
        (date(2027, 1, 31), None, None, None, date(2027, 1, 31)),
        (date(2027, 1, 31), None, 730, 180, date(2027, 1, 31)),  # the earlier of the two counts
        (None, None, 730, 180, date(2028, 2, 29)),  # two years after 1 March 2026, of which one is a leap year
        (None, 0, 730, 180, date(2026, 8, 28)),  # 1 March and 180 days
        (date(2026, 4, 1), 0, None, 180, date(2026, 4, 1)),
        (None, 0, 730, None, date(2028, 2, 29)),
    ],
)
def test_a_bottle_is_good_until_the_earliest_of_what_is_stated(
    expires_on, opened_days_ago, closed_days, open_days, last_day
):
    """Days counted by the calendar, by hand."""
    came = datetime(2026, 3, 1, 23, 30, tzinfo=UTC)
    stated = ShelfLife(unopened_days=closed_days, opened_days=open_days) if closed_days or open_days else None
    opened_at = None if opened_days_ago is None else came
    told = {"expires_on": expires_on, "received_at": came, "opened_at": opened_at}
    assert last_good_day(**told, life=stated, zone=LONDON) == last_day


def test_a_case_is_received_at_once_and_its_labels_are_next(lab: SmallLab, client_as):
    client = client_as("technician")
    address = f"/store/bottles/receive?product_id={lab.ids['product fixer']}"
    typed = {"bottles": "6", "amount": "1 L", "lot": "Партия 7", "expires_on": "2027-03-01"}
    sent = {**hidden(page_at(client, address)), **typed}
    answer, again = (client.post(address, data=sent) for _ in range(2))
    bottles = db.session.execute(select(Bottle).order_by(Bottle.id)).scalars().all()
    assert len({bottle.code for bottle in bottles}) == len(bottles) == 6
    assert {(bottle.lot, bottle.vessel.level) for bottle in bottles} == {("Партия 7", UL_PER_L)}
    assert again.location == f"/store/bottles/{bottles[0].id}"  # sent twice, received once
    page = page_at(client, answer.location)
    for bottle in bottles:
        assert re.search(rf'value="bottle-{bottle.id}"\s+checked', page)
    assert check_whole()[Account.SUPPLIER] == -6 * UL_PER_L
    for wrong in ("0", "49", "-3"):
        refused = send(client, address, {**typed, "bottles": wrong})
        assert refused.status_code == 422


def test_the_first_to_lapse_is_asked_for_and_a_lapsed_one_is_offered_nowhere(lab: SmallLab, client_as):
    """The product keeps 180 days once opened, by a data sheet made up for the tests."""
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    opened = bath.batches[0].parts[0].bottle
    soon, late = bottle_of(lab, expires_on=date(2026, 6, 1)), bottle_of(lab, expires_on=date(2027, 6, 1))
    lapsed = bottle_of(lab, expires_on=TODAY - timedelta(days=1))
    client, product_id = client_as("technician"), lab.ids["product fixer"]
    stated = {"opened_days": "180", "unopened_days": "", "source": "made-up sheet, page 1"}
    assert send(client, f"/store/products/{product_id}/keeping", stated).status_code == 303
    plan = (
        f"/baths/mix?product_id={product_id}&dilution=4000&volume=1+L&line_id=1&place=fixer&holding=tank&capacity=2+L"
    )
    replenish, again = f"/baths/{bath.id}/replenish?volume=500+mL", f"/baths/{bath.id}/again"
    for page in (page_at(client, plan), page_at(client, replenish), page_at(client, again)):
        shown = [page.find(bottle.code) for bottle in (soon, opened, late)]
        assert shown == sorted(shown)
        assert -1 not in shown
        assert lapsed.code not in page
        assert "The first to lapse: use this one first." in page
    assert "2.5 L left" in page_at(client, "/baths/mix")  # the lapsed litre is not among what there is
    assert "Mix a bath from it" not in page_at(client, f"/store/bottles/{lapsed.id}")
    today = words_of(client.get("/"))
    assert lapsed.code in today
    assert "Throw it away" in today
    # an old page still names it: the act refuses
    named = {"bottles-0-bottle_id": str(lapsed.id), "bottles-0-amount": "200", "water": "800", "begins": "spare"}
    refused = send(client, plan, {**named, "name": "Film fixer", "capacity": "2 L", "when": ""})
    assert refused.status_code == 422
    assert f"{lapsed.code} is past its date since 2 Mar 2026" in words_of(refused)
    db.session.expire_all()
    assert lapsed.vessel.level == UL_PER_L


def test_what_is_set_apart_is_offered_nowhere_until_somebody_else_clears_it(lab: SmallLab, client_as):
    bottle = bottle_of(lab, expires_on=date(2027, 1, 1))
    technician, page = client_as("technician"), f"/store/bottles/{bottle.id}"
    assert send(technician, f"{page}/set-apart", {"reason": ""}).status_code == 422
    assert send(technician, f"{page}/set-apart", {"reason": "Brown, should be clear"}).status_code == 303
    assert "In quarantine: nobody uses it" in page_at(technician, page)
    assert bottle.code in page_at(technician, "/")
    mixing = f"/baths/mix?product_id={lab.ids['product fixer']}"
    assert "No bottle to mix from" in page_at(technician, mixing)
    own = send(technician, f"{page}/clear", {"note": "I looked again."})
    assert "You set" in words_of(own)
    assert "Somebody else has to say that it is good." in words_of(own)
    adviser = client_as("safety adviser")
    assert send(adviser, f"{page}/clear", {"note": ""}).status_code == 422
    assert send(adviser, f"{page}/clear", {"note": "The supplier's letter of today"}).status_code == 303
    assert "No bottle to mix from" not in page_at(technician, mixing)
    assert "The supplier's letter of today" in page_at(technician, page).replace("&#39;", "'")
    row = db.session.query(BottleQuarantine).one()
    with pytest.raises(IntegrityError):
        db.session.execute(update(BottleQuarantine).values(ended_by_id=row.started_by_id))
    db.session.rollback()


def test_a_bottle_thrown_away_goes_somewhere_and_the_litres_are_explained(lab: SmallLab, client_as):
    bottle, given, powder = bottle_of(lab), bottle_of(lab), add_waiting(lab, powder_mg_per_l=97_000)
    right, wrong = lab.open_container(), lab.open_container("09 01 01*")
    client, page = client_as("technician"), f"/store/bottles/{bottle.id}"
    assert f"{page}/throw-away" in page_at(client, page)
    stopped = send(client, f"{page}/throw-away", {"way": str(wrong.id), "amount": "1 L", "note": "", "left_at": ""})
    assert "Stop. Do not pour." in words_of(stopped)
    typed = {"way": str(right.id), "amount": "900", "note": "", "left_at": ""}
    assert send(client, f"{page}/throw-away", typed).location == page
    assert "into a waste container" in page_at(client, page)
    accounts = check_whole()
    assert accounts[Account.UNEXPLAINED] == 100 * UL_PER_ML  # what was seen was less than the book said
    assert db.session.query(BottleCorrection).one().reason == "seen when it left"
    db.session.expire_all()
    assert (bottle.vessel.level, right.vessel.level) == (0, 900 * UL_PER_ML)
    assert send(client, f"{page}/throw-away", typed).status_code == 422  # it is gone already
    other = f"/store/bottles/{given.id}/throw-away"
    for way, asked in (
        ("spilled", "Write where it was spilled"),
        ("back to the supplier", "Write to whom it went back"),
        ("with a waste carrier, in its own bottle", "Write the carrier and the consignment note code."),
        ("given to somebody outside the lab", "Write to whom it was given"),
    ):
        assert asked in words_of(send(client, other, {"way": way, "amount": "1 L", "note": "", "left_at": ""}))
    told = {"way": "spilled", "amount": "1 L", "note": "Under the wet side; taken up and aired.", "left_at": ""}
    assert send(client, other, told).status_code == 303
    assert check_whole()[Account.SPILLED] == UL_PER_L
    log = words_of(client.get("/documents/waste-log?from=2026-03-01&to=2026-03-31"))
    for said in ("Spilled 1.00 L", "Under the wet side; taken up and aired.", "Seen when it left"):
        assert said in log
    with pytest.raises(IntegrityError):
        db.session.execute(update(BottleLeft).where(BottleLeft.way == "spilled").values(note=""))
    db.session.rollback()
    packet = service.receive_bottle(
        lab.act("technician", now=START), product_id=powder.id, amount=500_000, noted=Noted(received_at=START)
    )
    shown = page_at(client, f"/store/bottles/{packet.id}/throw-away")
    assert "foul sewer" not in shown  # a powder is not poured away
    typed = {"way": "with a waste carrier, in its own bottle", "amount": "500 g", "note": "Invented Carriers, A/1"}
    assert send(client, f"/store/bottles/{packet.id}/throw-away", {**typed, "left_at": ""}).status_code == 303
    assert "Left otherwise 500 g" in words_of(client.get("/documents/waste-log?from=2026-03-01&to=2026-03-31"))


def test_a_bottle_without_a_label_stays_apart_until_somebody_else_knows_it(lab: SmallLab, client_as):
    member, technician = client_as("member"), client_as("technician")
    seen = {"looks": "Коричневое стекло, half full", "place": "Under the sink", "stands": "In a tray", "found_at": ""}
    answer = send(member, "/store/unlabelled/report", seen)
    found = db.session.query(UnlabelledBottle).one()
    assert found.code in page_at(member, answer.location)
    assert "Not known. Do not open." in page_at(member, answer.location)
    assert found.code in page_at(technician, "/store")
    assert found.code in page_at(technician, "/")
    assert found.code in page_at(technician, "/find?q=коричневое")
    decide = f"/store/unlabelled/{found.id}/decide"
    assert member.get(decide).status_code == 403
    known = {
        "ending": "known now, and in the store",
        "note": "The student who left it brought its invoice.",
        "product_id": str(lab.ids["product fixer"]),
        "amount": "",
        "bottle_code": "",
        "lot": "",
    }
    assert "Enter how much is in it" in words_of(send(technician, decide, known))
    assert send(technician, decide, {**known, "amount": "400 mL"}).status_code == 303
    bottle = db.session.query(Bottle).one()
    assert bottle.code in page_at(technician, f"/store/unlabelled/{found.id}")
    assert check_whole()[Account.FROM_OUTSIDE] == -400 * UL_PER_ML
    own = send(technician, "/store/unlabelled/report", {**seen, "looks": "White crystals"}).location
    gone = {**known, "ending": "handed over as not known", "note": "Invented Carriers, note A/2"}
    assert "You found" in words_of(send(technician, f"{own}/decide", gone))
    manager = client_as("manager")
    assert send(manager, f"{own}/decide", {**gone, "note": ""}).status_code == 422
    assert send(manager, f"{own}/decide", gone).status_code == 303
    assert send(manager, f"{own}/decide", gone).status_code == 422  # decided once
    with pytest.raises(IntegrityError):
        db.session.execute(text("UPDATE unlabelled_bottles SET ended_by_id = found_by_id"))
    db.session.rollback()


def test_a_shelf_is_counted_in_one_save_and_each_difference_has_its_reason(lab: SmallLab, client_as):
    same, less, missing, unseen, elsewhere = (bottle_of(lab) for _ in range(5))
    shelf = put_on_shelf(lab, same, less, missing, unseen)
    client, page = client_as("technician"), f"/store/count?shelf={shelf.id}"
    assert page in page_at(client, "/store/shelves")

    def sent(**changes: str) -> dict[str, str]:
        return {
            **{f"book_{bottle.id}": str(bottle.vessel.level) for bottle in (same, less, missing, unseen)},
            f"same_{same.id}": "y",
            f"found_{less.id}": "700",
            f"reason_{less.id}": "spilled",
            f"found_{missing.id}": "0",
            f"reason_{missing.id}": "the bottle is not there",
            "also_here": elsewhere.code,
            **changes,
        }

    for changes, said in (
        ({f"reason_{less.id}": ""}, "say why it differs, or that nobody knows"),
        ({f"found_{less.id}": "1600"}, "does not hold that much even when full"),
        ({f"found_{less.id}": "1100"}, "100 mL more than the book cannot come of “spilled”"),
        ({f"same_{less.id}": "y"}, "Either tick that it is as the book says"),
        ({f"found_{less.id}": ""}, "Write what you found in it; 0 where it is not there."),
        ({f"book_{same.id}": "500000"}, "something changed since this page was opened"),
        ({"also_here": "LS-B9-X"}, "No bottle bears the code LS-B9-X"),
    ):
        refused = send(client, page, sent(**changes))
        assert refused.status_code == 422
        assert said in words_of(refused), changes
    assert db.session.query(BottleCorrection).count() == 0
    answer = send(client, page, sent())
    assert answer.status_code == 303
    shown = words_of(client.get(answer.location))
    for said in ("4 bottles looked at, 1 not", "−300 mL", "Spilled", "−1 L", "The bottle is not there"):
        assert said in shown
    accounts = check_whole()
    assert (accounts[Account.SPILLED], accounts[Account.UNEXPLAINED]) == (300 * UL_PER_ML, UL_PER_L)
    shelves = words_of(client.get("/store/shelves"))
    assert "Counted on" in shelves
    assert missing.code not in page_at(client, f"/baths/mix?product_id={lab.ids['product fixer']}")
    assert elsewhere.code in page_at(client, page)
    log = words_of(client.get("/documents/waste-log?from=2026-03-01&to=2026-03-31"))
    assert "Spilled 0.30 L" in log
    assert "The bottle is not there" in log
    assert send(client, page, {f"book_{same.id}": "0"}).status_code == 422  # nothing was looked at
    held = {vessel.kind for vessel in (same.vessel, less.vessel)}
    assert held == {VesselKind.BOTTLE}
