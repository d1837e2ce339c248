from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys.brought_in import rules, service
from labsys.brought_in.models import Declaration, Ending
from labsys.documents.guest_label import GUEST_LABEL, OfDeclaration
from labsys.documents.rules import DocumentRefused
from labsys.documents.service import issue_document
from labsys.mail.models import OutgoingMail
from labsys.people.acts import Act
from labsys.people.permissions import NotPermitted
from labsys.products.rules import ProductRefused
from labsys.records.errors import Refused
from labsys.records.models import Code, CodeKind, RecordEntry
from tests.support.guests import NO, YES, decide, declare


def last_entry(lab):
    return lab.session.execute(select(RecordEntry.payload).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()


def end(lab, made, *, role="member", ending=Ending.TAKEN_HOME, container=""):
    return service.end(
        Act(lab.session, by=lab.person(role), now=lab.now),
        declaration_id=made.id,
        ending=ending,
        container_label=container,
        ended_at=lab.tick(),
    )


def label(lab, made, *, role="technician"):
    return issue_document(lab.act(role), GUEST_LABEL, OfDeclaration(made.id), public_url="https://lab.example.org")


def test_what_is_declared_waits_without_a_code(lab):
    made = declare(lab, h_codes="h314, H226")
    assert (made.is_accepted, made.code, made.h_codes) == (None, None, "H314 H226")
    assert [(one.name, one.cas) for one in made.ingredients] == [("acetic acid", "64-19-7")]
    assert '"late":false' in last_entry(lab)


def test_short_notice_is_recorded_all_the_same_and_marked(lab):
    declare(lab, first_on=lab.now.date(), last_on=lab.now.date())
    assert '"late":true' in last_entry(lab)


def test_what_cannot_be_is_not_declared(lab):
    with pytest.raises(ProductRefused, match="not a hazard statement"):
        declare(lab, h_codes="H999")
    with pytest.raises(rules.DeclarationRefused, match="comes before the first"):
        declare(lab, last_on=lab.now.date())
    with pytest.raises(NotPermitted):
        declare(lab, role="safety adviser")
    assert lab.session.query(Declaration).count() == 0


def test_a_yes_gives_a_code_and_writes_to_the_person(lab):
    made = decide(lab, declare(lab), YES)
    code = lab.session.get_one(Code, made.code)
    assert (code.kind, code.row_id, made.code[:4]) == (CodeKind.GUEST, made.id, "AS-G")
    mail = lab.session.query(OutgoingMail).one()
    assert mail.person_id == lab.ids["member"]
    assert made.code in mail.body
    assert "In the fume hood only" in mail.body
    assert mail.path == f"/brought-in/{made.id}"


def test_a_no_gives_none_and_writes_the_reasons(lab):
    made = decide(lab, declare(lab), NO, by="safety adviser")
    assert (made.is_accepted, made.code) == (False, None)
    assert "Not in this room" in lab.session.query(OutgoingMail).one().body


@pytest.mark.parametrize("role", ["member", "instructor", "manager"])
def test_nobody_else_decides(lab, role):
    made = declare(lab)
    with pytest.raises(NotPermitted):
        decide(lab, made, YES, by=role)


def test_what_was_never_brought_is_withdrawn_and_no_longer_decided_about(lab):
    made = end(lab, declare(lab), ending=Ending.NOT_BROUGHT)
    assert (made.ending, made.code) == (Ending.NOT_BROUGHT, None)
    with pytest.raises(Refused, match="withdrawn"):
        decide(lab, made, YES)


def test_what_was_refused_and_brought_all_the_same_is_recorded_as_it_happened(lab):
    made = decide(lab, declare(lab), NO)
    ended = end(lab, made, role="technician", ending=Ending.DISPOSED_OF, container="AS-W0001-X")
    assert ended.container_label == "AS-W0001-X"


def test_it_is_decided_once(lab):
    made = decide(lab, declare(lab), YES)
    with pytest.raises(Refused, match="decided already"):
        decide(lab, made, NO)
    assert lab.session.query(OutgoingMail).count() == 1


def test_its_owner_or_who_decides_says_that_it_is_gone(lab):
    made = decide(lab, declare(lab), YES)
    with pytest.raises(NotPermitted):
        end(lab, made, role="instructor")
    ended = end(lab, made)
    assert (ended.ending, ended.ended_at, ended.container_label) == (Ending.TAKEN_HOME, lab.now, "")
    other = decide(lab, declare(lab), YES)
    assert end(lab, other, role="technician", ending=Ending.DISPOSED_OF, container="AS-W0001-X").container_label


def test_the_label_is_issued_for_what_is_here_and_for_nothing_else(lab):
    made = declare(lab)
    with pytest.raises(DocumentRefused, match="let in"):
        label(lab, made)
    decide(lab, made, YES)
    with pytest.raises(NotPermitted):
        label(lab, made, role="member")
    assert label(lab, made).title == f"Guest bottle label {made.code}"
    end(lab, made)
    with pytest.raises(DocumentRefused, match="let in"):
        label(lab, made)


def test_the_end_of_an_older_bottle_is_kept_with_the_day_it_went(lab):
    made = decide(lab, declare(lab), YES)
    went = lab.now
    lab.tick(days=20)
    ended = service.end(
        Act(lab.session, by=lab.person("member"), now=lab.now),
        declaration_id=made.id,
        ending=Ending.TAKEN_HOME,
        container_label="",
        ended_at=went,
    )
    assert ended.ended_at == lab.now - timedelta(days=20)
