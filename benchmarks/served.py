"""How many requests a second a served lab answers, eight at once, and how long each takes; and so its bare pages.

Both are served by waitress in a process of their own, as `labsys serve` does it, on 127.0.0.1 alone.
"""

import argparse
import http.client
import logging
import pickle
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import quantiles
from urllib.parse import urlencode

from flask import Flask

from benchmarks.bare import BarePage, bare_app
from benchmarks.filling import opened
from benchmarks.visits import Visit, signed_in, token_in
from labsys.cli import HOST, listen

CLIENTS = 8
_REQUESTS = 25  # of each client
_WARM_UP = 3


@dataclass(frozen=True)
class Load:
    """What came of many requests at once; `refused` were told that the database is busy."""

    a_second: float
    p50_ms: float
    p99_ms: float
    refused: int


@dataclass(frozen=True)
class Served:
    name: str
    ours: Load
    bare: Load


def measure(app: Flask, path: Path, bare: dict[Visit, BarePage], *, requests: int = _REQUESTS) -> list[Served]:
    """Serve the lab in a file and its bare pages at the same time, and ask one, then the other, page by page."""
    with tempfile.TemporaryDirectory() as folder:
        pages = Path(folder) / "pages"
        pages.write_bytes(pickle.dumps({visit.key: page for visit, page in bare.items()}))
        with _serving("labsys", path) as lab_port, _serving("bare", path, pages) as bare_port:
            return [_measure_one(app, visit, lab_port, bare_port, requests) for visit in bare]


def _measure_one(app: Flask, visit: Visit, lab_port: int, bare_port: int, requests: int) -> Served:
    client = signed_in(app, visit.who)
    token = token_in(client.get(visit.path).text) if visit.sent else ""
    cookie = client.get_cookie("session")
    assert cookie is not None
    body = urlencode({**dict(visit.sent), "csrf_token": token}) if visit.sent else None
    headers = {"Cookie": f"session={cookie.value}"}
    ours = _ask(lab_port, visit.path, body, headers, requests)
    return Served(visit.name, ours, _ask(bare_port, f"/{visit.key}", body, {}, requests))


def _ask(port: int, path: str, body: str | None, headers: dict[str, str], requests: int) -> Load:
    """Eight clients ask at once, each over one connection, one request after the other."""
    times: list[float] = []
    refused: list[float] = []
    at_once = threading.Barrier(CLIENTS + 1)

    def client() -> None:
        connection = http.client.HTTPConnection(HOST, port, timeout=60)
        for number in range(_WARM_UP + requests):
            if number == _WARM_UP:
                at_once.wait()
            began = time.perf_counter()
            if body is None:
                connection.request("GET", path, headers=headers)
            else:
                form = {**headers, "Content-Type": "application/x-www-form-urlencoded"}
                connection.request("POST", path, body=body, headers=form)
            answer = connection.getresponse()
            answer.read()
            assert answer.status in (200, 303, 503), f"{path}: {answer.status}"
            if number >= _WARM_UP:
                (refused if answer.status == 503 else times).append(time.perf_counter() - began)
        connection.close()

    clients = [threading.Thread(target=client) for _ in range(CLIENTS)]
    for one in clients:
        one.start()
    at_once.wait()
    began = time.perf_counter()
    for one in clients:
        one.join()
    took = time.perf_counter() - began
    assert len(times) + len(refused) == CLIENTS * requests, f"{path}: some clients failed"
    cuts = quantiles(times, n=100, method="inclusive")
    return Load(len(times) / took, cuts[49] * 1000, cuts[98] * 1000, len(refused))


@contextmanager
def _serving(what: str, path: Path, pages: Path | None = None) -> Iterator[int]:
    with socket.socket() as free:
        free.bind((HOST, 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "benchmarks.served", what, str(path), str(port), *([str(pages)] if pages else [])]
    server = subprocess.Popen(command, cwd=Path(__file__).parent.parent)
    try:
        _wait_for(port, server)
        yield port
    finally:
        server.terminate()
        server.wait(10)


def _wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    for _ in range(300):
        assert server.poll() is None, "the server did not start"
        with socket.socket() as trying:
            if trying.connect_ex((HOST, port)) == 0:
                return
        time.sleep(0.1)
    raise TimeoutError


def main() -> None:
    """Serve one of the two until stopped."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["labsys", "bare"])
    parser.add_argument("path", type=Path)
    parser.add_argument("port", type=int)
    parser.add_argument("pages", type=Path, nargs="?")
    asked = parser.parse_args()
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # says each time that somebody waits
    if asked.what == "bare":
        pages = pickle.loads(asked.pages.read_bytes())  # noqa: S301 - ours
        listen(bare_app(asked.path, pages), HOST, asked.port).run()
        return
    with opened(asked.path) as app:
        listen(app, HOST, asked.port).run()


if __name__ == "__main__":
    main()
