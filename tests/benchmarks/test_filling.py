"""A lab filled for measuring keeps what the services keep, and its pages open."""

import json

import pytest
import sqlalchemy as sa

from benchmarks.busy import Pace
from benchmarks.filling import NOW, fill
from benchmarks.pages import caller
from benchmarks.visits import signed_in, visits
from labsys import clock
from labsys.database import db
from labsys.ledger import queries as ledger
from labsys.records import chain
from labsys.records import queries as records
from tests.conftest import Content

DAYS, PACE = 12, Pace(0.02)
FEWEST, MOST = 500, 5_000

# Areas and pieces of each bath beside the sums of the uses that count in it.
_AREAS = sa.text("""
    SELECT baths.id FROM baths LEFT JOIN use_baths ON use_baths.bath_id = baths.id LEFT JOIN uses ON uses.id = use_id
    GROUP BY baths.id, film_mm2, rc_mm2, fibre_mm2, pieces
    HAVING film_mm2 + rc_mm2 + fibre_mm2 <> COALESCE(SUM(area_mm2), 0) OR pieces <> COALESCE(SUM(count), 0)
""")
_COUNTERS = sa.text("""
    SELECT code_counters.kind FROM code_counters JOIN codes ON codes.kind = code_counters.kind
    GROUP BY code_counters.kind, last HAVING last <> COUNT(*)
""")


@pytest.fixture
def filled_app(new_app, monkeypatch):
    """A small busy lab after some days, without the demonstration's story."""
    monkeypatch.setattr(clock, "now", lambda: NOW)
    app = new_app(Content.TABLES)
    with app.app_context():
        assert FEWEST < fill(db.session, days=DAYS, pace=PACE, story=False) < MOST
        db.session.remove()
    return app


def test_a_filled_lab_keeps_what_the_services_keep(filled_app):
    with filled_app.app_context():
        assert records.find_fault(db.session) is None
        assert ledger.wrong_levels(db.session) == []
        assert ledger.unbalanced_movements(db.session) == []
        assert db.session.execute(_AREAS).all() == []
        assert db.session.execute(_COUNTERS).all() == []
        for payload in db.session.execute(sa.text("SELECT payload FROM record_entries")).scalars():
            assert payload == chain.canonical(json.loads(payload))
        entries = db.session.execute(sa.text("SELECT payload FROM record_entries WHERE payload LIKE '%use.logged%'"))
        assert len(entries.all()) == db.session.execute(sa.text("SELECT COUNT(*) FROM uses")).scalar_one() > 0


@pytest.mark.sqlite_only
def test_every_page_that_is_measured_opens(filled_app):
    with filled_app.app_context():
        opened = visits()
    for visit in opened:
        assert caller(signed_in(filled_app, visit.who), visit)() >= 0, visit.name


@pytest.mark.sqlite_only
def test_two_fillings_are_equal(new_app):
    heads = []
    for _ in range(2):
        app = new_app(Content.TABLES)
        with app.app_context():
            fill(db.session, days=1, pace=PACE, story=False)
            heads.append(db.session.execute(sa.text("SELECT * FROM uses ORDER BY id")).all())
            db.session.remove()
    assert heads[0] == heads[1] != []
