"""Who was in contact: what counts, what does not, and that old years cost nothing."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import event

from labsys.baths import service as baths
from labsys.baths import testing, uses
from labsys.baths.models import CheckKind, Place
from labsys.baths.testing import Found
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.database import db
from labsys.quantities import UL_PER_ML
from labsys.register.contact import ESTIMATE, Sought, people_in_contact, statement
from labsys.waste import service as waste
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured
from tests.support.lab import ACETIC_ACID, START
from tests.support.pages import page_at

ACID = ACETIC_ACID.cas


def found(lab, sought):
    return {
        person.name: {one.kind: one.times for one in person.contacts}
        for person in people_in_contact(lab.session, sought)
    }


def since(lab, **asked):
    return Sought(START, **asked)


def test_everything_that_was_written_down_counts_once(lab):
    line = lab.mix_film_line()
    lab.log(2)
    lab.log(1, role="instructor")
    stop = line[Place.STOP]
    testing.check_bath(
        lab.act("technician"),
        bath_id=stop.id,
        kind=CheckKind.PH,
        found=Found(value_milli=4_800, milli_c=20_000),
        checked_at=lab.now,
    )
    lab.dump(stop, lab.open_container("09 01 99"), volume_ml=2_400)
    assert found(lab, since(lab, cas=ACID)) == {
        "Ines Carrow": {"worked in a bath of it": 1},
        "Sol Haddad": {"mixed": 1, "tested": 1, "dumped": 1},
        "Łukasz Żak": {"worked in a bath of it": 1},
    }


def test_a_use_that_went_through_two_baths_of_it_counts_once(lab):
    lab.mix_film_line()
    acid_fixer = lab.add_product(SolutionKind.FIXER, name="Acid fixer", ingredients=[ACETIC_ACID])
    fixer = lab.ids["product fixer"]
    lab.ids["product fixer"] = acid_fixer.id
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_000)
    lab.ids["product fixer"] = fixer
    lab.log(1)
    assert found(lab, since(lab, cas=ACID))["Łukasz Żak"] == {"worked in a bath of it": 1}


def test_a_use_taken_back_and_a_mixing_undone_do_not_count(lab):
    lab.mix_film_line()
    use = lab.log(2)
    uses.correct_use(lab.act("member"), use_id=use.id, pieces=Pieces(size_of(key="120"), Material.FILM, 0))
    spare = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000, in_service=False)
    baths.undo_mixing(lab.act("technician"), bath_id=spare.id)
    assert found(lab, since(lab, cas=ACID)) == {"Sol Haddad": {"mixed": 1}}


def test_a_pour_by_hand_of_its_waste_counts_as_what_it_is(lab):
    waste.pour(
        lab.act("member"),
        container_id=lab.open_container("09 01 99").id,
        poured=Poured("stop bath from a tray", "09 01 99", 500 * UL_PER_ML, kind=WasteKind.STOP),
        poured_at=lab.now,
    )
    assert found(lab, since(lab, cas=ACID)) == {"Łukasz Żak": {"poured waste of its code": 1}}
    assert found(lab, since(lab, cas="123-31-9")) == {}


def test_what_was_before_the_day_does_not_count_and_a_product_can_be_asked_for(lab):
    lab.mix_film_line()
    lab.log(1)
    later = Sought(lab.now + timedelta(seconds=1), product_id=lab.ids["product stop"])
    assert found(lab, later) == {}
    assert set(found(lab, replace(later, since=START))) == {"Sol Haddad", "Łukasz Żak"}


def test_people_come_by_name_in_pages_by_key(lab):
    lab.mix_film_line()
    for role in ("member", "instructor", "technician"):
        lab.log(1, role=role)
    everybody = [one.person_id for one in people_in_contact(lab.session, since(lab, cas=ACID))]
    first = people_in_contact(lab.session, since(lab, cas=ACID), limit=2)
    rest = people_in_contact(lab.session, since(lab, cas=ACID), after_id=first[-1].person_id, limit=2)
    assert [one.person_id for one in (*first, *rest)] == everybody
    assert len(everybody) == 3


@pytest.mark.sqlite_only
def test_the_statement_finds_uses_by_their_bath(lab):
    """No scan of the uses, their baths or the ledger: what was long ago costs nothing."""
    told = plan(lab.session, statement(since(lab, cas=ACID), limit=51))
    assert "ix_use_baths_bath_id" in told, told
    for table in ("uses", "use_baths", "batches", "checks", "postings", "movements"):
        assert f"SCAN {table}" not in told, told


def plan(session, asked):
    """How SQLite means to answer, a line for each step."""
    sent = []

    def explain(_connection, cursor, sql, parameters, *_):
        sent.extend(cursor.execute(f"EXPLAIN QUERY PLAN {sql}", parameters).fetchall())

    event.listen(db.engine, "before_cursor_execute", explain)
    session.execute(asked)
    event.remove(db.engine, "before_cursor_execute", explain)
    return "\n".join(step[3] for step in sent)

    # The page


@pytest.mark.sqlite_only
def test_the_page_says_what_it_is_and_names_people(lab, adviser):
    lab.mix_film_line()
    lab.log(2)
    page = page_at(adviser, f"/register/contact?cas={ACID}&since=2026-03-01")
    assert ESTIMATE in page
    assert "Łukasz Żak" in page
    assert "Worked in a bath of it once" in page
    table = page_at(adviser, f"/register/contact.csv?cas={ACID}&since=2026-03-01")
    assert "Łukasz Żak,worked in a bath of it,1,2026-03-02,2026-03-02" in table


BAD = [
    ("cas=64-19-8&since=2026-03-01", "That is no CAS number"),
    ("since=2026-03-01", "Enter a CAS number or choose a product."),
    ("cas=64-19-7&product=1&since=2026-03-01", "not both"),
    ("cas=64-19-7&since=", "Choose the first day."),
    ("cas=64-19-7&since=0026-03-01", "Check the year."),
]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("asked", "message"), BAD)
def test_what_cannot_be_asked_is_said(lab, adviser, asked, message):
    for path in ("/register/contact", "/register/contact.csv"):
        answer = adviser.get(f"{path}?{asked}")
        assert answer.status_code == 422
        assert message in answer.get_data(as_text=True)


@pytest.mark.sqlite_only
def test_nobody_else_may_ask(lab, client_as):
    for role in ("member", "instructor", "technician", "manager"):
        assert client_as(role).get("/register/contact").status_code == 403
