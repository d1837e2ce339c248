"""Doubtful work is recalled: whose it is is told once, what can be mended stands there with its source."""

from datetime import timedelta

import pytest
from sqlalchemy import select, update
from sqlalchemy.exc import IntegrityError

from labsys import clock
from labsys.baths.models import Bath, CheckKind, Place, Work
from labsys.baths.recall.models import Fault, Recall, RecalledUse
from labsys.baths.recall.rules import SEE_THE_TECHNICIAN, film_wash_minutes, mend
from labsys.baths.testing import Found, check_bath
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.ledger import queries as ledger
from labsys.mail.models import OutgoingMail
from labsys.store.models import Bottle
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, links, page_at, press, send
from tests.support.pages import text as words_of


def clears_in(lab: SmallLab, bath: Bath, seconds: int, *, is_fresh: bool = False) -> None:
    found = Found(value_milli=seconds * 1_000, is_fresh=is_fresh)
    check_bath(lab.act("technician"), bath_id=bath.id, kind=CheckKind.CLEARING_TIME, found=found, checked_at=lab.now)


def letters(lab: SmallLab) -> list[tuple[int, str]]:
    """To whom recalls were written, and what."""
    query = select(OutgoingMail).where(OutgoingMail.kind == "recall").order_by(OutgoingMail.id)
    return [(mail.person_id, mail.body) for mail in lab.session.execute(query).scalars()]


@pytest.mark.parametrize(
    ("work", "place", "fault", "material", "said"),
    [
        (Work.FILM, Place.FIXER, Fault.EXHAUSTED, Material.FILM, "for twice the time in which a piece"),
        (Work.FILM, Place.FIXER, Fault.WEAK, Material.FILM, "running water for 8 minutes, or in 3 changes of 5"),
        (Work.PAPER, Place.FIXER, Fault.EXHAUSTED, Material.RC, "at most 2 minutes. Then wash it for 2 to 4"),
        (Work.PAPER, Place.FIXER, Fault.EXHAUSTED, Material.FIBRE, "3 to 5 minutes in each. Then wash it in 12"),
        (Work.PAPER, Place.WASH_AID, Fault.EXHAUSTED, Material.FIBRE, "wash it in 12 changes of 5 minutes."),
        (Work.FILM, Place.DEVELOPER, Fault.EXHAUSTED, Material.FILM, SEE_THE_TECHNICIAN),
        (Work.FILM, Place.STOP, Fault.EXHAUSTED, Material.FILM, SEE_THE_TECHNICIAN),
        (Work.PAPER, Place.TONER, Fault.WEAK, Material.FIBRE, SEE_THE_TECHNICIAN),
        (Work.FILM, Place.FIXER, Fault.STRONG, Material.FILM, SEE_THE_TECHNICIAN),
        (Work.FILM, Place.FIXER, Fault.LOT, Material.FILM, SEE_THE_TECHNICIAN),
        (Work.FILM, Place.FIXER, Fault.WRONG, Material.FILM, SEE_THE_TECHNICIAN),
    ],
)
def test_what_can_be_mended_has_its_time_and_source_and_all_else_goes_to_the_technician(
    work, place, fault, material, said
):
    """Film: 60 g/L in 2 mL on 0.056 m² to 0.014 g/m² takes 7.26 halvings of a minute (NAVEDTRA 14209; M. Torzynski,
    Strasbourg 2004; 36 CFR 1238.14), so 8 whole minutes. Fibre: 12 changes of 5 minutes (Amateur Work)."""
    told = mend(work=work, place=place, fault=fault, material=material)
    assert said in told.do
    assert bool(told.source) == (told.do != SEE_THE_TECHNICIAN)
    assert film_wash_minutes() == 8


def test_a_failed_test_recalls_what_went_through_since_the_last_good_one(lab: SmallLab, client_as, monkeypatch):
    """Fresh 40 s, then 50 s: good. 85 s is more than twice the fresh time (NAVEDTRA 14209): used up."""
    bath = lab.mix_film_line()[Place.FIXER]
    clears_in(lab, bath, 40, is_fresh=True)
    sound = lab.log(1)
    clears_in(lab, bath, 50)
    doubtful, taught = lab.log(2), lab.log(4, role="instructor", class_name="First films")
    put_right = lab.log(7)
    monkeypatch.setattr(clock, "now", lambda: lab.now)
    technician, member = client_as("technician"), client_as("member")
    opening = f"/baths/{bath.id}/recall"
    assert "Its last test failed" not in page_at(technician, f"/baths/{bath.id}")
    clears_in(lab, bath, 85)
    assert "Its last test failed" in page_at(technician, f"/baths/{bath.id}")
    assert "Its last test failed" not in page_at(member, f"/baths/{bath.id}")
    assert member.get(opening).status_code == 403
    assert "3 entries since its last good test" in words_of(technician.get(opening))
    assert fill_in(technician, opening, why="").status_code == 422
    lab.tick()
    answer = fill_in(technician, opening)  # filled in: used up, since the last good test, by the failed one
    assert answer.status_code == 303
    page = answer.location
    named = set(lab.session.execute(select(RecalledUse.use_id)).scalars())
    assert named == {doubtful.id, taught.id, put_right.id}
    written = letters(lab)
    assert sorted(person for person, _ in written) == sorted([lab.ids["member"], lab.ids["instructor"]])
    body = dict(written)[lab.ids["member"]]
    for said in ("2 of 120", "Fix it again in a good fixer", "running water for 8 minutes", "NAVEDTRA 14209"):
        assert said in body
    assert "for First films: tell your class" in dict(written)[lab.ids["instructor"]]
    assert fill_in(technician, opening).status_code == 422  # told once: it is recalled for this already
    # each sees their own
    assert page in links(page_at(member, "/"))
    assert "Your work may be faulty" in page_at(member, "/")
    own = page_at(member, page)
    assert f"/uses/{doubtful.id}" in links(own)
    assert f"/uses/{taught.id}" not in links(own)
    assert f"/uses/{sound.id}" not in links(own)
    assert lab.person("instructor").name not in own
    all_of_it = page_at(client_as("instructor"), page)
    assert {f"/uses/{use.id}" for use in (doubtful, taught, put_right)} <= set(links(all_of_it))
    # an entry put right is not told again, nor one taken back
    lab.tick()
    assert fill_in(member, f"/uses/{put_right.id}/correct", count="6").status_code == 303
    assert len(letters(lab)) == 2
    assert "6 of 120" in words_of(member.get(page))
    assert press(member, f"{page}/seen-to", at=page).status_code == 303
    assert "Your work may be faulty" not in page_at(member, "/")
    # no new work; what was done all the same is recorded, named and told
    line = f"/baths/lines/{lab.film_line_id}/log"
    stopped = fill_in(member, line, size="120", material="film", count="1", before_start="y")
    assert "is recalled: used up. Do not start." in words_of(stopped) or stopped.status_code == 422
    lab.tick()
    late = lab.log(5)
    assert late.id in set(lab.session.execute(select(RecalledUse.use_id)).scalars())
    assert [person for person, _ in letters(lab)][2:] == [lab.ids["member"]]
    assert "5 of 120" in letters(lab)[2][1]
    assert "Your work may be faulty" in page_at(member, "/")
    # the door notice says it to those who logged nothing
    notice = words_of(technician.get(f"/documents/door-notice/{page.rpartition('/')[2]}"))
    for said in (bath.code, "Did you work there and log nothing?", "Fix it again in a good fixer"):
        assert said in notice
    made = send(technician, f"/documents/door-notice/{page.rpartition('/')[2]}")
    assert technician.get(made.location).mimetype == "application/pdf"
    # closed with a reason
    lab.tick()
    assert send(technician, f"{page}/close", {"closing": " "}).status_code == 422
    assert send(technician, f"{page}/close", {"closing": "All have seen to theirs"}).status_code == 303
    assert "Your work may be faulty" not in page_at(member, "/")
    assert technician.get(f"/documents/door-notice/{page.rpartition('/')[2]}").status_code == 303
    lab.log(1)
    assert len(letters(lab)) == 3  # of a closed recall nobody is told any more
    with pytest.raises(IntegrityError):
        lab.session.execute(update(Recall).values(closing=""))
    lab.session.rollback()


def test_a_faulty_lot_recalls_its_baths_and_what_is_not_known_is_not_ruled_out(lab: SmallLab, client_as, monkeypatch):
    paper = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, paper=True)
    lot = paper.batches[0].parts[0].bottle
    lab.mix_film_line()  # its fixer comes out of a bottle of the same lot
    unnoted = lab.add_bottle(SolutionKind.FIXER)
    lab.session.get_one(Bottle, unnoted.id).lot = ""
    lab.session.commit()
    used = lab.log(2)
    monkeypatch.setattr(clock, "now", lambda: lab.tick())
    technician = client_as("technician")
    address = f"product_id={lot.product_id}&lot=LOT+1"
    assert f"/lots/recall?{address}" in links(page_at(technician, f"/lots?{address}"))
    assert client_as("member").get(f"/lots/recall?{address}").status_code == 403
    wrong = send(
        technician, f"/lots/recall?product_id={lot.product_id}&lot=NONE", {"fault": "made of a faulty lot", "why": "x"}
    )
    assert "No bottle of" in words_of(wrong)
    told = {"fault": "made of a faulty lot", "why": "The supplier's letter", "with_not_known": "y", "sets_apart": "y"}
    answer = send(technician, f"/lots/recall?{address}", told)
    page = words_of(technician.get(answer.location))
    assert paper.code in page
    assert "2 of 120" in page
    assert SEE_THE_TECHNICIAN in page
    assert [person for person, _ in letters(lab)] == [lab.ids["member"]]
    assert lab.session.execute(select(RecalledUse.use_id)).scalars().all() == [used.id]
    for each in lab.session.execute(select(Bottle).where(Bottle.product_id == lot.product_id)).scalars():
        assert each.is_quarantined == bool(each.vessel.level), each.code
    assert "No bottle to mix from" in page_at(technician, f"/baths/mix?product_id={lot.product_id}")
    assert ledger.wrong_levels(lab.session) == []


@pytest.mark.sqlite_only
def test_a_bath_found_wrongly_mixed_is_doubtful_since_its_mixing(lab: SmallLab, client_as, monkeypatch):
    bath = lab.mix_film_line()[Place.DEVELOPER]
    lab.log(3)
    monkeypatch.setattr(clock, "now", lambda: lab.now + timedelta(minutes=1))
    technician = client_as("technician")
    answer = fill_in(technician, f"/baths/{bath.id}/recall", fault="mixed too weak", why="1+9 in place of 1+6")
    page = words_of(technician.get(answer.location))
    assert "3 of 120" in page
    assert SEE_THE_TECHNICIAN in page
    assert "Recalled: mixed too weak" in words_of(technician.get(f"/baths/{bath.id}"))
