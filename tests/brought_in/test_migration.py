"""The steps that bring incidents and declarations go down and up again with rows in their tables."""

import flask_migrate
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from labsys.database import db
from labsys.incidents import service as incidents
from labsys.incidents.models import IncidentKind
from labsys.people.acts import Act
from labsys.web import asset_root
from tests.support.guests import YES, decide, declare

TABLES = {"incidents", "incident_processes", "incident_products", "declarations", "declared_ingredients"}


def test_the_steps_go_down_and_up_again_with_rows_in_their_tables(lab):
    decide(lab, declare(lab), YES)
    incidents.report(
        Act(lab.session, by=lab.person("member"), now=lab.now),
        told=incidents.IncidentReport(kind=IncidentKind.SPILL, what="Fixer", product_ids=[lab.ids["product fixer"]]),
        happened_at=lab.now,
    )
    lab.session.remove()
    below = ScriptDirectory(str(asset_root() / "migrations")).get_revision("0014").down_revision
    flask_migrate.downgrade(revision=below)
    assert not TABLES & set(inspect(db.engine).get_table_names())
    with db.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM codes WHERE kind = 'G'")).scalar_one() == 0
        assert connection.execute(text("SELECT count(*) FROM products")).scalar_one() > 0
    flask_migrate.upgrade()
    assert set(inspect(db.engine).get_table_names()) >= TABLES
    assert decide(lab, declare(lab), YES).code.startswith("AS-G0001")
