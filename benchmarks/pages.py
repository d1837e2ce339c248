"""How long pages and acts take, beside a bare Flask view that does the same read or write in the same run.

    .venv/bin/python benchmarks/pages.py

Plays the demonstration lab into a temporary folder. Figures are medians of single requests in one process; use the
ratios, since machines differ.
"""

import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, text

from labsys.baths.models import Bath
from labsys.config import Config
from labsys.database import BEGIN_OPTION, db
from labsys.demo import show
from labsys.people.access import ANYONE, permits
from labsys.people.models import Person
from labsys.web import create_app

ROUNDS = 60
NOW = datetime(2026, 5, 14, 15, 0, tzinfo=UTC)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        config = Config(
            instance=Path(folder),
            database_url=f"sqlite:///{folder}/labsys.sqlite3",
            secret_key="x" * 40,
            password_cost=(1, 8, 1),
        )
        app = create_app(config)
        with app.app_context():
            began = time.perf_counter()
            show.make(app, now=NOW, fresh=False)
            print(f"demonstration lab played in {time.perf_counter() - began:.1f} s")
            member = db.session.execute(select(Person).where(Person.email.like("lukasz@%"))).scalar_one().get_id()
            _add_bare_views(app)
            app.config["WTF_CSRF_ENABLED"] = False
        client = app.test_client()
        with client.session_transaction() as cookies:
            cookies["_user_id"] = member
        pairs = {
            "Today": ("/", "/bare/read"),
            "Baths": ("/baths", "/bare/read"),
            "Log a use, the form": ("/baths/lines/1/log", "/bare/read"),
        }
        print(f"{'page':<24}{'ms':>8}{'bare ms':>10}{'ratio':>8}")
        for name, (path, bare) in pairs.items():
            _row(name, lambda path=path: client.get(path), lambda bare=bare: client.get(bare))
        _row("Log a use, the act", lambda: _log(client), lambda: client.post("/bare/write"))


def _add_bare_views(app: Flask) -> None:
    """The least a view can do: read the rows a page shows, or write one row, with nothing around it."""

    def read() -> str:
        return str([bath.code for bath in db.session.execute(select(Bath).where(Bath.dumped_at.is_(None))).scalars()])

    def write() -> str:
        db.session.rollback()
        db.session.connection(execution_options={BEGIN_OPTION: "IMMEDIATE"})
        db.session.execute(text("UPDATE baths SET pieces = pieces + 1 WHERE id = 1"))
        db.session.commit()
        return "ok"

    app.add_url_rule("/bare/read", view_func=permits(ANYONE)(read))
    app.add_url_rule("/bare/write", view_func=permits(ANYONE)(write), methods=["POST"])


def _log(client: FlaskClient) -> object:
    response = client.post("/baths/lines/1/log", data={"size": "120", "count": "1", "started": "done"})
    assert response.status_code == 303, response.status
    return response


def _row(name: str, ours: Callable[[], object], bare: Callable[[], object]) -> None:
    times: dict[str, list[float]] = {"ours": [], "bare": []}
    for _ in range(ROUNDS):  # in turn, so that both meet the same machine
        for which, call in (("ours", ours), ("bare", bare)):
            began = time.perf_counter()
            call()
            times[which].append((time.perf_counter() - began) * 1000)
    mine, theirs = statistics.median(times["ours"]), statistics.median(times["bare"])
    print(f"{name:<24}{mine:>8.1f}{theirs:>10.1f}{mine / theirs:>8.1f}")


if __name__ == "__main__":
    main()
