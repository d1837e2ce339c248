"""One application for all tests of a worker: each test's database is put behind it.

An application of its own for each test would compile every route and every statement anew.
"""

from dataclasses import dataclass, field
from typing import Any

from flask import Flask
from jinja2 import BytecodeCache
from sqlalchemy import event, make_url

from labsys.config import Config
from labsys.database import db
from labsys.web import create_app
from tests.support.client import InspectingClient


def make_app(config: Config, compiled: BytecodeCache) -> Flask:
    app = create_app(config)
    app.test_client_class = InspectingClient
    app.jinja_env.bytecode_cache = compiled
    return app


@dataclass
class LentApplication:
    """An application whose engine connects to the database of the test that has it."""

    app: Flask
    settings: dict[str, Any] = field(init=False)
    address: str = field(init=False)

    def __post_init__(self) -> None:
        self.settings = dict(self.app.config)
        self.address = self.settings["SQLALCHEMY_DATABASE_URI"]
        with self.app.app_context():
            engine = db.engine
        event.listen(engine, "do_connect", self._connect)
        if engine.dialect.name == "sqlite":
            event.listen(engine, "connect", _do_not_wait_for_the_disk)

    def lend(self, config: Config) -> Flask:
        """The application as it was made, with these settings and the database they name."""
        if config.database_url != self.address:
            self.address = config.database_url
            self.put_down()
        self.app.config.clear()
        self.app.config.update({**self.settings, "LABSYS": config, "SQLALCHEMY_DATABASE_URI": config.database_url})
        return self.app

    def put_down(self) -> None:
        """Close the connections that wait to be used again."""
        with self.app.app_context():
            db.engine.dispose()

    def _connect(self, dialect: Any, _record: object, _arguments: object, _named: object) -> Any:
        arguments, named = dialect.create_connect_args(make_url(self.address))
        return dialect.connect(*arguments, **named)


def _do_not_wait_for_the_disk(connection: Any, _record: object) -> None:
    """A power cut may cost a test its database; tests of what the settings promise make an engine of their own."""
    connection.execute("PRAGMA synchronous=OFF")
