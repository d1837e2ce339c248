"""Serves the demonstration lab as it stands on one afternoon, in a process of its own: its clock is not ours.

python -m tests.browser.serve_demo FOLDER ["only play"]
"""

import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask
from werkzeug.serving import make_server

from labsys import clock
from labsys.demo import show
from labsys.web import create_app
from tests.conftest import settings

PLAY_ONLY = "only play"
TODAY = datetime(2026, 5, 14, 15, 0, tzinfo=UTC)


def main(folder: Path, *asked: str) -> None:
    app = create_app(settings(folder, f"sqlite:///{folder / 'labsys.sqlite3'}"))
    with app.app_context():
        show.make(app, now=TODAY, fresh=False)
    if PLAY_ONLY not in asked:
        serve(app)


def serve(app: Flask) -> None:
    """Serve on a free port, told on standard output; it is TODAY, and time goes on from there."""
    began = time.monotonic()
    clock.now = lambda: TODAY + timedelta(seconds=time.monotonic() - began)
    server = make_server("127.0.0.1", 0, app, threaded=True)
    print(server.server_port, flush=True)  # noqa: T201 - how the port is told to whoever started this
    server.serve_forever()


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
