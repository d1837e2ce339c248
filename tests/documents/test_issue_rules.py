from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from zoneinfo import ZoneInfo

import pytest

from labsys.documents.rules import DocumentAltered, check_unaltered, file_name
from labsys.timetable.period import Period

BYTES = b"%PDF-1.4 something"
DIGEST = sha256(BYTES).hexdigest()


@pytest.mark.parametrize("on_record", [DIGEST, None])
def test_bytes_that_fit_their_digests_are_let_through(on_record):
    check_unaltered(document_id=1, content=BYTES, digest=DIGEST, on_record=on_record)


@dataclass
class Case:
    content: bytes = BYTES
    digest: str = DIGEST
    on_record: str | None = DIGEST


OTHER = b"%PDF-1.4 something else"


@pytest.mark.parametrize(
    "case",
    [
        Case(content=OTHER),
        Case(digest=sha256(OTHER).hexdigest()),
        Case(content=OTHER, digest=sha256(OTHER).hexdigest()),  # both changed alike: the record still knows better
        Case(content=b"", on_record=None),
    ],
)
def test_altered_bytes_are_noticed(case):
    with pytest.raises(DocumentAltered) as altered:
        check_unaltered(document_id=7, content=case.content, digest=case.digest, on_record=case.on_record)
    assert altered.value.document_id == 7


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Bath label AS-T0001-K", "bath-label-as-t0001-k-3.pdf"),
        ('Évil"; filename="x.exe', "vil-filename-x-exe-3.pdf"),
        ("../../etc\r\npasswd", "etc-passwd-3.pdf"),
    ],
)
def test_a_file_has_a_name_that_every_system_takes(title, name):
    assert file_name(title=title, number=3) == name


@pytest.mark.parametrize(
    ("zone", "day", "begins", "hours"),
    [  # clock changes by the IANA time zone database
        ("Europe/London", date(2026, 3, 2), "2026-03-02T00:00:00+00:00", 24),
        ("Europe/London", date(2026, 3, 29), "2026-03-29T00:00:00+00:00", 23),
        ("Europe/London", date(2026, 10, 25), "2026-10-24T23:00:00+00:00", 25),
        ("Africa/Cairo", date(2026, 4, 24), "2026-04-23T22:00:00+00:00", 23),
    ],
)
def test_a_day_of_a_period_is_the_labs_own_even_when_the_clocks_change(zone, day, begins, hours):
    """In Cairo the clocks go from midnight to one: that day begins at the change."""
    start, end = Period(day, day).instants(zone=ZoneInfo(zone))
    assert start == datetime.fromisoformat(begins)
    assert (end - start).total_seconds() == hours * 3600


def test_a_period_follows_on_the_one_before_without_a_gap():
    zone = ZoneInfo("Europe/London")
    march, april = Period(date(2026, 3, 1), date(2026, 3, 31)), Period(date(2026, 4, 1), date(2026, 4, 30))
    assert march.instants(zone=zone)[1] == april.instants(zone=zone)[0]


def test_the_month_so_far_begins_with_its_first_day():
    assert Period.month_so_far(date(2026, 3, 9)) == Period(date(2026, 3, 1), date(2026, 3, 9))
    assert str(Period(date(2026, 3, 9), date(2026, 3, 9))) == "9 March 2026"
