"""Fills a lab with years of a busy one: the demonstration lab, and beside it 3,000 people in ten years.

    .venv/bin/python -m benchmarks.filling FOLDER --days 3650 [--times 1]

The demonstration is played through the services; everything else is put in as rows (`busy.py`), day by day up to the
same moment, so that the pages show a busy day. Two fillings of equal arguments are equal. A lab that is in the folder
already is used again.
"""

import argparse
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock_time
from pathlib import Path
from random import Random
from typing import Any

import flask_migrate
import sqlalchemy as sa
from flask import Flask
from sqlalchemy import event

from benchmarks.busy import Days, House, Pace
from benchmarks.rows import Rows
from labsys import clock
from labsys.config import Config
from labsys.database import DbSession, db
from labsys.demo.fixtures import read_fixtures
from labsys.demo.furnishing import furnish
from labsys.demo.history import scenes
from labsys.demo.play import Play
from labsys.demo.show import PASSWORD
from labsys.web import asset_root, create_app

NOW = datetime(2026, 5, 14, 15, 10, tzinfo=UTC)
THREE_MONTHS, TEN_YEARS = 92, 3652
_SEED = 1897
_STRETCH = 20  # days put in at once while nothing else happens
_COST = (1, 8, 1)


def config_of(path: Path) -> Config:
    """The settings of a lab in a file."""
    return Config(
        instance=path.parent,
        database_url=f"sqlite:///{path}",
        secret_key="only-for-benchmarks-" + "x" * 32,
        password_cost=_COST,
    )


@contextmanager
def opened(path: Path) -> Iterator[Flask]:
    """The application on a lab in a file, at the moment up to which it was filled.

    No context is left open: requests would share its session and its user.
    """
    clock.now = lambda: NOW
    app = create_app(config_of(path))
    yield app
    with app.app_context():
        db.engine.dispose()


def filled(folder: Path, *, days: int, times: float = 1.0) -> Path:
    """The file of a lab with so many days of a busy one, made unless it is there."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"busy-{days}-{times:g}.sqlite3"
    if path.exists():
        return path
    making = path.with_suffix(".making")
    making.unlink(missing_ok=True)
    began = time.perf_counter()
    with opened(making) as app, app.app_context():
        event.listen(db.engine, "connect", _hasten)
        flask_migrate.upgrade()
        rows = fill(db.session, days=days, pace=Pace(times))
        db.session.execute(sa.text("PRAGMA wal_checkpoint(TRUNCATE)"))
    making.rename(path)
    print(f"{path}: {rows:,} rows in {time.perf_counter() - began:.0f} s")
    return path


def fill(session: DbSession, *, days: int, pace: Pace, now: datetime = NOW, story: bool = True) -> int:
    """Fill an empty database, and return how many rows were put in besides the demonstration's.

    Without `story` the demonstration is furnished, and nothing happens in it.
    """
    play = Play(session, read_fixtures(asset_root() / "demo_fixtures"), now=now, password=PASSWORD, cost=_COST)
    first = play.today - timedelta(days=days)
    play.at = min(play.at, play.instant(first - timedelta(days=1), clock_time(6, 0)))
    furnish(play)
    random = Random(_SEED)  # noqa: S311 - a story, not a secret
    rows = Rows(session.connection(), random=random, prefix=play.fixtures.told["lab"]["code_prefix"])
    lab = Days(_house(play, first), pace, rows, random, now)
    lab.lay_out()
    to_come = deque(scenes(play) if story else ())
    written = 0
    for number in range(days + 1):
        day = first + timedelta(days=number)
        end = play.instant(day + timedelta(days=1), clock_time(0))
        if to_come and to_come[0][0] < end:
            written += _write(session, rows)
            while to_come and to_come[0][0] < end:
                happens_at, act = to_come.popleft()
                play.at = max(play.at, happens_at)
                act()
            session.commit()
            rows.resume(session.connection())
            lab.forget(_shut(session, lab.containers))
        lab.live(day)
        if number % _STRETCH == 0:
            written += _write(session, rows)
    return written + _write(session, rows)


def _write(session: DbSession, rows: Rows) -> int:
    written = rows.write()
    session.commit()
    rows.resume(session.connection())
    return written


def _house(play: Play, first: date) -> House:
    tables = db.metadata.tables
    read = play.session.execute
    people, versions, products = tables["people"], tables["induction_versions"], tables["products"]
    names = dict(map(tuple, read(sa.select(people.c.id, people.c.name))))
    used = {bath.product for line in play.fixtures.lines for bath in line.baths}
    product_ids = {key: play.ids[f"product {key}"] for key in used}
    codes = dict(map(tuple, read(sa.select(products.c.id, products.c.waste_code))))
    streams = tables["waste_streams"]
    return House(
        first_day=first,
        zone=play.zone,
        technician=(play.ids["joss"], names[play.ids["joss"]]),
        teacher=(play.ids["imre"], names[play.ids["imre"]]),
        adviser=(play.ids["odile"], names[play.ids["odile"]]),
        room_id=read(sa.select(sa.func.min(tables["rooms"].c.id))).scalar_one(),
        recipes={line.work.value: line.baths for line in play.fixtures.lines},
        product_ids=product_ids,
        waste_codes={key: codes[number] for key, number in product_ids.items()},
        stream_ids=dict(map(tuple, read(sa.select(streams.c.code, streams.c.id)))),
        process_ids={line.work.value: play.ids[f"process {line.process}"] for line in play.fixtures.lines},
        inductions=tuple(map(tuple, read(sa.select(versions.c.id, versions.c.valid_days).order_by(versions.c.id)))),
    )


def _shut(session: DbSession, container_ids: set[int]) -> set[int]:
    """Of these containers, those that the story has collected or put in quarantine."""
    containers, quarantines = db.metadata.tables["waste_containers"], db.metadata.tables["quarantines"]
    is_shut = sa.or_(
        containers.c.collected_at.is_not(None), sa.exists().where(quarantines.c.container_id == containers.c.id)
    )
    return set(session.execute(sa.select(containers.c.id).where(containers.c.id.in_(container_ids), is_shut)).scalars())


def _hasten(connection: Any, _record: object) -> None:
    """Nothing is lost that could not be made again."""
    for pragma in ("synchronous=OFF", "cache_size=-400000", "temp_store=MEMORY"):
        connection.execute(f"PRAGMA {pragma}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--days", type=int, default=THREE_MONTHS)
    parser.add_argument("--times", type=float, default=1.0, help="how many times as busy")
    asked = parser.parse_args()
    print(filled(asked.folder, days=asked.days, times=asked.times))


if __name__ == "__main__":
    main()
