"""Issuing documents in a small lab, through the pages and without them."""

from datetime import date

from sqlalchemy import func, select

from labsys.documents.bath_label import BATH_LABEL, OfBath
from labsys.documents.occasion import Occasion, occasion_of
from labsys.documents.waste_log import WASTE_LOG
from labsys.records.models import IssuedDocument
from labsys.timetable.period import Period

PUBLIC = "https://lab.example.org"
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
IN_MARCH = "/documents/waste-log?from=2026-03-01&to=2026-03-31"


def label_path(bath):
    return f"/documents/bath-label/{bath.id}"


def occasion(lab, role="technician") -> Occasion:
    """A document made now, for the person of a role."""
    return occasion_of(lab.session, person=lab.person(role), now=lab.now, public_url=PUBLIC)


def label_data(lab, bath):
    return BATH_LABEL.collect(lab.session, OfBath(bath.id), occasion(lab))


def log_data(lab, period=MARCH):
    return WASTE_LOG.collect(lab.session, period, occasion(lab, "manager"))


def documents(lab):
    return lab.session.execute(select(func.count()).select_from(IssuedDocument)).scalar_one()
