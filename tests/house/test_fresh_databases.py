"""Each test meets the small lab as it was first left, though the application and the database are made only once."""

from collections.abc import Callable, Iterator
from contextlib import closing

import pytest
from flask import Flask
from sqlalchemy import Engine, create_engine, inspect, select, text

from labsys.chemistry.care import SolutionKind
from labsys.database import Base, db
from tests.conftest import Content
from tests.support.beginnings import SharedLab
from tests.support.lab import SmallLab

Rows = dict[str, list[str]]


@pytest.fixture
def shared(lab: SmallLab, backend: str, request: pytest.FixtureRequest) -> SharedLab:
    return request.getfixturevalue(f"{backend}_shared")


@pytest.fixture
def untouched(new_database: Callable[..., str]) -> Iterator[Engine]:
    """A database of its own, copied from the template."""
    engine = create_engine(new_database(Content.LAB).replace("postgresql://", "postgresql+psycopg://"))
    yield engine
    engine.dispose()


def rows_in(engine: Engine) -> Rows:
    with engine.connect() as connection:
        return {
            table.name: sorted(map(repr, connection.execute(select(table)))) for table in Base.metadata.sorted_tables
        }


def fill_again(lab: SmallLab, shared: SharedLab) -> None:
    lab.session.remove()
    assert lab.beginnings is not None
    lab.beginnings.put_behind_application(shared.database.fill())


def test_what_one_test_wrote_the_next_does_not_meet(lab: SmallLab, shared: SharedLab, untouched: Engine):
    first = rows_in(untouched)
    bottle_id = lab.add_bottle(SolutionKind.FIXER).id
    lab.mix_film_line()
    lab.log(3)
    lab.session.execute(text("DELETE FROM submissions"))
    lab.session.execute(text("UPDATE people SET name = 'Somebody else'"))
    lab.session.commit()
    assert rows_in(db.engine) != first
    fill_again(lab, shared)
    assert rows_in(db.engine) == first
    assert lab.add_bottle(SolutionKind.FIXER).id == bottle_id, "rows are numbered from where they were"


def test_a_test_that_changes_the_tables_leaves_none_of_it(lab: SmallLab, shared: SharedLab, untouched: Engine):
    tables = {name: len(inspect(untouched).get_columns(name)) for name in inspect(untouched).get_table_names()}
    lab.session.execute(text("ALTER TABLE people ADD COLUMN nickname TEXT"))
    lab.session.execute(text("CREATE TABLE rumours (id INTEGER PRIMARY KEY)"))
    lab.session.commit()
    fill_again(lab, shared)
    left = inspect(db.engine)
    assert {name: len(left.get_columns(name)) for name in left.get_table_names()} == tables


def test_a_connection_left_in_the_middle_of_something_disturbs_no_other_test(lab: SmallLab, shared: SharedLab):
    with closing(db.engine.connect()) as left:
        left.execute(text("SELECT count(*) FROM people"))
        fill_again(lab, shared)
        lab.add_bottle(SolutionKind.FIXER)
        left.invalidate()


def test_a_beginning_that_is_copied_is_the_one_that_was_done(lab: SmallLab, shared: SharedLab):
    assert lab.beginnings is not None
    start, ids = lab.now, dict(lab.ids)
    shared.known.clear()
    lab.mix_film_line()
    done, then = rows_in(db.engine), lab.now
    fill_again(lab, shared)
    lab.now, lab.ids, lab.beginnings.path = start, ids, ()
    assert len(shared.known) == 1
    baths = lab.mix_film_line()
    assert len(shared.known) == 1, "it was copied"
    assert rows_in(db.engine) == done
    assert lab.now == then
    assert all(bath.is_in_service for bath in baths.values())


def test_where_something_was_written_before_nothing_is_copied_over_it(lab: SmallLab, shared: SharedLab):
    lab.mix_film_line()  # known from now on
    fill_again(lab, shared)
    lab.session.execute(text("UPDATE people SET name = 'Somebody else'"))
    lab.session.commit()
    lab.mix_film_line()
    assert {person.name for person in [lab.person("member"), lab.person("manager")]} == {"Somebody else"}


@pytest.mark.sqlite_only
def test_an_application_of_its_own_waits_for_the_disk(new_app: Callable[..., Flask]):
    """Only the application that tests share does without: a power cut costs nothing there."""
    with new_app(Content.LAB, public_url="https://lab.example.org").app_context():
        kept = {
            name: db.session.execute(text(f"PRAGMA {name}")).scalar_one()
            for name in ("synchronous", "journal_mode", "foreign_keys", "recursive_triggers", "busy_timeout")
        }
        db.session.remove()
    full = 2
    assert kept == {
        "synchronous": full,
        "journal_mode": "wal",
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 5_000,
    }
