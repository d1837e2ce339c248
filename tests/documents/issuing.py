"""Issuing documents in a small lab, through the pages and without them."""

from datetime import date

from sqlalchemy import func, select

from labsys.documents.collect_label import collect_bath_label
from labsys.documents.collect_log import Period, collect_waste_log
from labsys.records import queries as records
from labsys.records.models import IssuedDocument
from tests.support.client import hidden_field

PUBLIC = "https://lab.example.org"
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
IN_MARCH = "/documents/waste-log?from=2026-03-01&to=2026-03-31"


def page(response):
    return response.get_data(as_text=True)


def issue(client, path, *, key=None, **fields):
    shown = page(client.get(path))
    sent = {
        "csrf_token": hidden_field(shown, "csrf_token"),
        "submission_key": key or hidden_field(shown, "submission_key"),
        **fields,
    }
    return client.post(path, data=sent)


def label_path(bath):
    return f"/documents/bath-label/{bath.id}"


def label_data(lab, bath):
    return collect_bath_label(
        lab.session,
        bath_id=bath.id,
        issued_by=lab.person("technician"),
        head=records.head(lab.session),
        public_url=PUBLIC,
        now=lab.now,
    )


def log_data(lab, period=MARCH):
    return collect_waste_log(
        lab.session,
        period=period,
        issued_by=lab.person("manager"),
        head=records.head(lab.session),
        public_url=PUBLIC,
        now=lab.now,
    )


def documents(lab):
    return lab.session.execute(select(func.count()).select_from(IssuedDocument)).scalar_one()
