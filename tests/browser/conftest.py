"""A real Chromium against a real server that serves the demonstration lab."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from labsys.demo import show
from tests.browser.serve_demo import PLAY_ONLY
from tests.support.waiting import PATIENCE_S

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
ROOT = Path(__file__).parents[2]
SCREENS = ROOT / ".screens"
PHONE, DESKTOP = (390, 844), (1280, 900)


@dataclass
class Screen:
    """One browser window of one person. Console errors and refused requests are collected, and must stay empty."""

    page: Page
    context: BrowserContext
    base: str
    complaints: list[str]
    name: str

    def open(self, path: str) -> None:
        self.page.goto(self.base + path)

    def sign_in(self, email: str) -> None:
        self.open("/sign-in")
        self.page.get_by_label("E-mail").fill(email)
        self.page.get_by_label("Password").fill(show.PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda url: "sign-in" not in url)

    def shoot(self, name: str) -> None:
        """Object to a page wider than its window, and keep a picture where there is a folder for it."""
        self.page.wait_for_load_state()
        if SCREENS.is_dir():
            self.page.screenshot(path=SCREENS / f"{name}-{self.name}.png", full_page=True)
        wide = self.page.locator("html").evaluate("html => html.scrollWidth - html.clientWidth")
        assert wide <= 0, f"{self.page.url} is {wide} px too wide at {self.name}"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        why = "no Chromium found: nothing was proven in a real browser"
        if os.environ.get("CI") == "true":
            pytest.fail(why)
        pytest.skip(why)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the demonstration lab as it stands on one afternoon in May, played once; servers work on copies."""
    folder = tmp_path_factory.mktemp("played")
    subprocess.run([sys.executable, "-m", "tests.browser.serve_demo", str(folder), PLAY_ONLY], cwd=ROOT, check=True)
    return folder


@contextmanager
def served(module: str, played: Path, folder: Path) -> Iterator[str]:
    """The address of a server of its own with a copy of the demonstration lab in this folder."""
    shutil.copytree(played, folder, dirs_exist_ok=True)
    with (folder / "log").open("w") as log:
        command = [sys.executable, "-m", module, str(folder)]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=log, text=True) as server:
            assert server.stdout is not None
            port = server.stdout.readline().strip()
            assert port, (folder / "log").read_text()
            yield f"http://127.0.0.1:{port}"
            server.terminate()


@pytest.fixture(scope="session")
def demo_address(played: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served("tests.browser.serve_demo", played, tmp_path_factory.mktemp("demo")) as address:
        yield address


@pytest.fixture
def screen(chromium: Browser, demo_address: str) -> Iterator[Callable[..., Screen]]:
    """Open a window of a width on the demonstration lab; `look` as somebody chose it."""
    yield from windows(chromium, demo_address)


def windows(chromium: Browser, address: str) -> Iterator[Callable[..., Screen]]:
    """What opens windows on the server at an address, and looks at the end that none complained."""
    opened: list[Screen] = []

    def new(size: tuple[int, int] = DESKTOP, *, look: str | None = None, scripts: bool = True) -> Screen:
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, java_script_enabled=scripts, reduced_motion="reduce"
        )
        context.set_default_timeout(PATIENCE_S * 1_000)
        if look:
            context.add_cookies([{"name": "look", "value": look, "url": address}])
        page = context.new_page()
        complaints: list[str] = []
        page.on("console", lambda message: _note(complaints, message))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        name = f"{'phone' if size == PHONE else 'desktop'}{'-' + look if look else ''}"
        opened.append(Screen(page, context, address, complaints, name))
        return opened[-1]

    yield new
    for one in opened:
        one.context.close()
        assert one.complaints == []


def _note(complaints: list[str], message: ConsoleMessage) -> None:
    """Everything said as an error, but for the answers a test asks for by sending something wrong."""
    wanted: tuple[Any, ...] = ("422", "409", "404")
    if message.type == "error" and not any(f"status of {status}" in message.text for status in wanted):
        complaints.append(message.text)
