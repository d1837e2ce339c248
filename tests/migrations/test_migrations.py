"""Migrations: the head equals the models, each step goes up and down with rows in it, and the triggers are there."""

from collections.abc import Callable
from datetime import timedelta

import flask_migrate
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from flask import Flask
from sqlalchemy import inspect, text

from labsys.chemistry.care import SolutionKind
from labsys.database import Base, db
from labsys.desk.verifying import VERIFY
from labsys.jobs import service as jobs
from labsys.timetable.spans import Span
from labsys.web import asset_root
from tests.conftest import Content
from tests.support.assessing import approved
from tests.support.lab import SmallLab
from tests.support.safety import add_sheet, put_on_shelf

REVISIONS = [
    script.revision for script in reversed(list(ScriptDirectory(str(asset_root() / "migrations")).walk_revisions()))
]
_ADD_ONLY = ("record_entries", "movements", "postings")
_KEPT = {f"{table}_no_{verb}" for table in _ADD_ONLY for verb in ("update", "delete")}
_KEPT |= {"collection_lines_held_insert", "collection_lines_held_update", "waste_containers_held_update"}
_FIXED = ("stated_properties", "sewer_limits", "discharge_readings")
_KEPT |= {"waste_containers_held_without_line", "discharge_readings_within_limit"} | {
    f"{table}_no_update" for table in _FIXED
}
_AS_RECORDED = ("collections", "collection_lines", "discharge_answers", "sewer_consent_names")
_BUT_FOR_AN_ACT = ("waste_containers", "pour_corrections")
_KEPT |= {
    f"{table}_no_update" for table in (*_AS_RECORDED, *_BUT_FOR_AN_ACT, "pours", "discharges", "sewer_consents")
} | {"waste_containers_found_empty"}
_NEVER_TAKEN_OUT = (*("quarantines", "pours", "discharges", "sewer_consents"), *_FIXED, *_AS_RECORDED, *_BUT_FOR_AN_ACT)
_KEPT |= {f"{table}_no_delete" for table in _NEVER_TAKEN_OUT} | {
    "quarantines_no_update",
    "quarantines_released_by_somebody",
}
TRIGGERS = {
    "sqlite": _KEPT | {"holds_no_overlap_insert", "holds_no_overlap_update"},
    "postgresql": _KEPT | {f"{table}_no_truncate" for table in (*_ADD_ONLY, *_NEVER_TAKEN_OUT)},
}


@pytest.fixture
def empty_app(new_app: Callable[..., Flask]):
    app = new_app(Content.NOTHING)
    with app.app_context():
        yield app
        db.session.remove()


def test_the_newest_migration_makes_exactly_what_the_models_say(lab: SmallLab):
    with db.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": _same_kind})
        assert compare_metadata(context, Base.metadata) == []


def test_constraints_have_the_names_the_models_give_them(lab: SmallLab):
    """Acts recognise a broken rule by its name."""
    found = inspect(db.engine)
    for table in Base.metadata.tables.values():
        named = {str(check["name"]) for check in found.get_check_constraints(table.name)}
        named |= {str(unique["name"]) for unique in found.get_unique_constraints(table.name)}
        wanted = {
            str(constraint.name)
            for constraint in table.constraints
            if constraint.__visit_name__
            in ("check_constraint", "unique_constraint", "table_or_column_check_constraint")
        }
        assert wanted == named, table.name


def test_every_declared_trigger_stands(lab: SmallLab, backend: str):
    if backend == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    assert set(lab.session.execute(text(query)).scalars()) == TRIGGERS[backend]


def test_all_the_way_up_and_down_leaves_no_trace(empty_app: Flask):
    flask_migrate.upgrade()
    flask_migrate.downgrade(revision="base")
    assert set(inspect(db.engine).get_table_names()) == {"alembic_version"}
    if db.engine.dialect.name == "postgresql":
        assert db.session.execute(text("SELECT count(*) FROM pg_proc WHERE proname = 'labsys_refuse'")).scalar() == 0


def test_each_step_goes_down_and_up_again_with_rows_in_the_tables(lab: SmallLab, monkeypatch: pytest.MonkeyPatch):
    """Rows of what stays are untouched; what a step brought goes with it and can come back.

    From the newest step down to the first, each goes down, up and down again, with the rows that are left to it; where
    only the first step's tables are left, all others come up on top of their rows.
    """
    _fill(lab)
    before = _counts()
    steps = ScriptDirectory(str(asset_root() / "migrations"))
    monkeypatch.setattr(ScriptDirectory, "from_config", lambda _config: steps)  # all steps are read once, not each time
    told = (
        "people",
        "record_entries",
        "movements",
        "bottles",
        "uses",
        "pours",
        "risk_substances",
        "jobs",
        "bookings",
        "holds",
    )
    assert all(before[name] for name in (*told, "lab", "outgoing_mail"))
    lab.session.remove()
    everything = set(before)
    for revision, below in zip(reversed(REVISIONS), [*reversed(REVISIONS[:-1]), "base"], strict=True):
        if below == "base":
            flask_migrate.upgrade()
            assert set(_counts()) == everything
            assert _of(before, _counts()) == before
            flask_migrate.downgrade(revision=revision)
        flask_migrate.downgrade(revision=below)
        kept = _counts()
        assert kept == _of(kept, before), f"{revision}, going down"
        flask_migrate.upgrade(revision=revision)
        after = _counts()
        assert set(after) == set(before), f"{revision}, coming back"
        assert _of(kept, after) == kept, f"{revision}, coming back"
        flask_migrate.downgrade(revision=below)
        before = _counts()
        assert before == kept, f"{revision}, going down again"
    assert before == {}


def _fill(lab: SmallLab) -> None:
    lab.mix_film_line()
    lab.log(3)
    approved(lab, lab.add_process())
    lab.add_vessel()
    lab.dump(lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000), lab.open_container(), volume_ml=990)
    add_sheet(lab, lab.ids["product fixer"])
    put_on_shelf(lab, lab.add_bottle(SolutionKind.STOP))
    jobs.ask(lab.act("manager"), kind=VERIFY)
    induction = lab.add_induction("Skin care")
    lab.appoint(induction)
    lab.sign_off(induction)  # and mail to say so
    lab.add_places()
    tomorrow = lab.now.replace(hour=12, minute=0) + timedelta(days=1)
    lab.book("Film sink", Span(tomorrow, tomorrow + timedelta(hours=2)))


def _counts() -> dict[str, int]:
    """Rows by table, of the tables there are."""
    names = [name for name in inspect(db.engine).get_table_names() if name != "alembic_version"]
    with db.engine.connect() as connection:
        return {name: connection.execute(text(f"SELECT count(*) FROM {name}")).scalar_one() for name in names}


def _of(tables: dict[str, int], counts: dict[str, int]) -> dict[str, int]:
    return {name: counts[name] for name in tables}


def _same_kind(context, inspected, declared, inspected_type, declared_type) -> bool | None:
    """An instant is text on SQLite and a timestamp on PostgreSQL; words are plain text on both."""
    if type(declared_type).__name__ in ("UtcDateTime", "Enum"):
        return False
    return None
