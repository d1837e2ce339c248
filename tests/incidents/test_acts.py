from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.incidents import queries, rules, service
from labsys.incidents.models import Incident, IncidentKind
from labsys.people.acts import Act, AlreadyDone
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.processes.models import Process
from labsys.products.models import Product
from labsys.records.errors import NotFound
from labsys.records.models import RecordEntry


def entry(lab, act):
    rows = lab.session.execute(select(RecordEntry.payload).order_by(RecordEntry.number)).scalars()
    return next(one for one in rows if f'"act":"{act}"' in one)


@pytest.mark.parametrize("role", Role)
def test_everybody_may_report(report, role):
    assert report(role).recorded_at is not None


def test_a_report_keeps_when_it_happened_apart_from_when_it_was_entered(lab, report):
    happened = lab.now - timedelta(days=2)
    made = report(happened_at=happened)
    assert (made.happened_at, made.recorded_at) == (happened, lab.now)


def test_who_was_hurt_is_kept_with_the_incident_and_not_on_the_record(lab, report):
    made = report(hurt="Zsófia Kardos", product_ids=[lab.ids["product fixer"]])
    assert queries.who_was_hurt(lab.session, made.id) == "Zsófia Kardos"
    payload = entry(lab, "incident.reported")
    assert "Fixer splashed" in payload
    assert "Kardos" not in payload


def test_an_incident_that_names_what_is_not_there_is_not_reported(lab, report):
    with pytest.raises(NotFound):
        report(product_ids=[999])
    with pytest.raises(NotFound):
        report(station_id=999)
    assert lab.session.query(Incident).count() == 0


def test_the_same_form_reports_once(lab):
    told = service.IncidentReport(kind=IncidentKind.CUT, what="Cut on a film clip")
    sent = {"told": told, "happened_at": lab.now}
    service.report(lab.act("member", key="one-and-the-same"), **sent)
    with pytest.raises(AlreadyDone):
        service.report(lab.act("member", key="one-and-the-same"), **sent)
    assert lab.session.query(Incident).count() == 1


def test_the_adviser_closes_an_incident_once_with_what_was_changed(lab, report):
    made = report()
    adviser = lab.person("safety adviser")
    with pytest.raises(rules.IncidentRefused, match="Write what was changed"):
        service.close(Act(lab.session, by=adviser, now=lab.tick()), incident_id=made.id, changed="")
    closed = service.close(Act(lab.session, by=adviser, now=lab.tick()), incident_id=made.id, changed="A new mat")
    assert (closed.changed, closed.closed_at) == ("A new mat", lab.now)
    assert '"changed":"A new mat"' in entry(lab, "incident.closed")
    with pytest.raises(rules.IncidentRefused, match="closed already"):
        service.close(Act(lab.session, by=adviser, now=lab.tick()), incident_id=made.id, changed="Again")


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.SAFETY_ADVISER])
def test_nobody_else_closes_an_incident(lab, report, role):
    made = report(role)
    with pytest.raises(NotPermitted):
        service.close(lab.act(role), incident_id=made.id, changed="A mat")


def test_the_newest_report_of_a_process_or_product_is_told(lab, report):
    process, fixer = lab.add_process(), lab.ids["product fixer"]
    other = lab.add_product(SolutionKind.FIXER, name="Another fixer").id
    long_ago = lab.now - timedelta(days=9)

    def newest() -> tuple[dict[int, object], dict[int, object]]:
        processes = lab.session.execute(select(Process.id, queries.newest_of_process(Process.id))).all()
        products = lab.session.execute(select(Product.id, queries.newest_of_product(Product.id))).all()
        return tuple({row: at for row, at in rows if at is not None} for rows in (processes, products))

    assert newest() == ({}, {})
    first = report(happened_at=lab.now, process_ids=[process.id], product_ids=[fixer]).recorded_at
    second = report(happened_at=long_ago, product_ids=[fixer, other]).recorded_at
    assert first < second
    assert newest() == ({process.id: first}, {fixer: second, other: second})
