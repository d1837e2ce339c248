"""From an empty lab to a label on the tank, on a phone: three people, one SDS, no manual."""

import os
import re
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from reportlab.pdfgen.canvas import Canvas

from tests.browser.conftest import PHONE, ROOT, Screen, windows
from tests.browser.test_spine_in_browser import choose
from tests.support.pages import pdf_text

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]

PASSWORD = "three plain words and one more"
CONCENTRATE = "Marlow PQ film developer"
PROCESS = "Roll film in PQ developer"
SHEET = (
    "SAFETY DATA SHEET",
    "1. Marlow PQ film developer, Marlow Photochemical Ltd",
    "2. Danger. H317 H318 H341 H351 H412",
    "3. Hydroquinone, 123-31-9, 3-5 %",
    "   Potassium carbonate, 584-08-7, 5-10 %",
    "   Sodium sulfite, 7757-83-7, 10-20 %",
    "8. Nitrile gloves, goggles",
    "9. Density 1.18 g/mL",
)
INGREDIENTS = (("123-31-9", "3-5 %"), ("584-08-7", "5-10 %"), ("7757-83-7", "10-20 %"))


@pytest.fixture
def empty_lab(tmp_path: Path) -> Iterator[tuple[str, str]]:
    """The address of a lab begun as a person begins one, and the first manager's link."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    settings = {name: value for name, value in os.environ.items() if not name.startswith("LABSYS_")}
    settings |= {"LABSYS_INSTANCE": str(tmp_path / "lab"), "LABSYS_PUBLIC_URL": address}
    labsys = [sys.executable, "-c", "from labsys.cli import main; main()"]
    answers = {
        "--name": "Trial darkroom",
        "--prefix": "TD",
        "--timezone": "Europe/London",
        "--nation": "England",
        "--emergency": "the porter, 01632 960 234",
        "--manager-name": "Mara Quill",
        "--manager-email": "mara@trial.example",
    }
    begin = [*labsys, "init", *(word for answer in answers.items() for word in answer)]
    told = subprocess.run(begin, cwd=ROOT, env=settings, check=True, capture_output=True, text=True).stdout
    with (tmp_path / "log").open("w") as log:
        serve = [*labsys, "serve", "--port", str(port)]
        with subprocess.Popen(serve, cwd=ROOT, env=settings, stdout=subprocess.PIPE, stderr=log, text=True) as server:
            line = server.stdout.readline()
            assert line.startswith("Serving on"), (tmp_path / "log").read_text()
            yield address, next(word for word in told.split() if "/welcome/" in word)
            server.terminate()


@pytest.fixture
def screen(chromium: Browser, empty_lab: tuple[str, str]) -> Iterator[Callable[..., Screen]]:
    """Open a window on the new lab."""
    yield from windows(chromium, empty_lab[0])


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "sds.pdf"
    canvas = Canvas(str(path))
    for number, line in enumerate(SHEET):
        canvas.drawString(40, 780 - 18 * number, line)
    canvas.save()
    return path


def test_from_the_sds_to_the_label(screen: Callable[..., Screen], empty_lab: tuple[str, str], sheet: Path):
    manager, technician, adviser = (screen(PHONE) for _person in range(3))
    _welcome(manager, empty_lab[1])
    _welcome(technician, _invite(manager, "Tess Okoro", "Technician"))
    _welcome(adviser, _invite(manager, "Ada Lind", "Safety adviser"))

    _register(technician, sheet)
    _receive(technician)
    _confirm(adviser)
    _write_process(technician)
    _assess(technician)
    _approve(adviser)
    for competence in ("Mixing out of hours", "Concentrated acid or alkali"):  # no hours are set; H318 may burn skin
        _name_first(manager, "Tess Okoro", competence)
    bath = _mix(technician)
    label = _issue_label(technician, bath)

    assert "H317 May cause an allergic skin reaction." in label
    assert "new after a splash or 30 minutes: hydroquinone can make skin allergic" in label
    assert "Contains hydroquinone, up to 1.1 % w/w" in label
    assert "Help here: the porter, 01632 960 234" in label
    adviser.open("/assessments")
    expect(adviser.page.locator("tr", has_text=PROCESS)).to_contain_text("approved")
    adviser.shoot("sds-assessments")


def _welcome(here: Screen, link: str) -> None:
    page = here.page
    page.goto(link)
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_label("The same once more").fill(PASSWORD)
    page.get_by_role("button", name="Set the password").click()
    expect(page.get_by_role("status").first).to_contain_text("you are signed in")


def _invite(manager: Screen, name: str, role: str) -> str:
    """Invite somebody from the first page, and give the link that is shown once."""
    page = manager.page
    manager.open("/")
    page.locator("main").get_by_role("link", name="People", exact=True).click()
    page.get_by_role("link", name="Invite somebody").click()
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("E-mail address").fill(f"{name.split()[0].lower()}@trial.example")
    choose(page, role)
    page.get_by_role("button", name="Invite").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"A link for {name}")
    manager.shoot("sds-invited")
    return page.get_by_label("Link", exact=True).input_value()


def _register(technician: Screen, sheet: Path) -> None:
    """What section 2, 3 and 9 say; the classes come from the reference list."""
    page = technician.page
    technician.open("/")
    page.locator("main").get_by_role("link", name="Products").click()
    page.get_by_role("link", name="Add a product").click()
    page.locator("main").get_by_label("Name").first.fill(CONCENTRATE)
    page.get_by_label("Supplier").fill("Marlow Photochemical Ltd")
    choose(page, "developer")
    page.get_by_label("Waste code").select_option(index=1)
    page.get_by_label("Date of the SDS").fill((date.today() - timedelta(days=200)).isoformat())  # noqa: DTZ011 - as typed
    page.get_by_label("H-codes").fill("H317 H318 H341 H351 H412")
    page.get_by_label("Density").fill("1.18")
    page.get_by_text("More ingredients").click()
    for number, (cas, content) in enumerate(INGREDIENTS):
        row = page.get_by_role("group", name=f"Ingredient {number + 1}")
        row.get_by_label("CAS number").fill(cas)
        row.get_by_label("Content by mass").fill(content)
    page.get_by_role("button", name="Fill in what the reference list knows").click()
    first = page.get_by_role("group", name="Ingredient 1")
    expect(first.get_by_label("Name")).to_have_value("hydroquinone")
    expect(first.get_by_label("Classes")).to_have_value(re.compile("Skin Sens. 1"))
    dilution = page.get_by_role("group", name="Dilution 1")
    dilution.get_by_label("Dilution").fill("1+4")
    dilution.get_by_label("For").fill("film")
    page.get_by_label("The SDS, as PDF").set_input_files(sheet)
    technician.shoot("sds-product")
    page.get_by_role("button", name="Save the product").click()
    expect(page.get_by_role("status").first).to_contain_text("waits to be confirmed")
    expect(page.locator("main")).to_contain_text("SDS current")


def _receive(technician: Screen) -> None:
    page = technician.page
    page.get_by_role("link", name="Receive a bottle").first.click()
    page.get_by_label("What is in each").fill("1 L")
    page.get_by_role("button", name="Put it in the store").click()
    expect(page.get_by_role("status").first).to_contain_text("In the store")
    technician.shoot("sds-bottle")


def _confirm(adviser: Screen) -> None:
    page = adviser.page
    adviser.open("/")
    adviser.shoot("sds-adviser-waiting")
    page.locator("td").get_by_role("link", name="Confirm").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download").click()
    assert download.value.path().stat().st_size > 0
    page.get_by_role("button", name="Confirm: they agree with the SDS").click()
    expect(page.get_by_role("status").first).to_contain_text("Baths may be mixed from it")


def _write_process(technician: Screen) -> None:
    page = technician.page
    technician.open("/processes")
    page.get_by_role("link", name="Write down a process").click()
    page.get_by_label("Name", exact=True).fill(PROCESS)
    choose(page, "film")
    step = page.get_by_role("group", name="Step 1")
    step.get_by_label("What it is called").fill("Developer")
    step.get_by_label("Product").select_option(index=1)
    step.get_by_label("Dilution").fill("1+4")
    step.get_by_label("Temperature").fill("20")
    step.get_by_label("Time", exact=True).fill("6:30")
    page.get_by_role("button", name="Save the process").last.click()
    expect(page.get_by_role("status").first).to_contain_text("is written down")
    technician.shoot("sds-process")


def _assess(technician: Screen) -> None:
    """Most is filled in; sent with gaps it names them all at once, and nothing already there is lost."""
    page = technician.page
    page.get_by_role("link", name="Assessment").click()
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("button", name="Save and send for approval").click()
    expect(page.locator("main")).to_contain_text("Not ready for approval. Missing: how many people")
    page.get_by_label("How many people at once").fill("3")
    page.get_by_label("How often").fill("twice a week")
    page.get_by_label("In place already").fill("Extraction; goggles and gloves by the sink.")
    page.get_by_label("Gloves").fill("nitrile, 0.2 mm")
    page.get_by_label("Breakthrough time").fill("60")
    page.get_by_label("Where that is said").fill("the glove maker's data")
    page.get_by_role("group", name="Risk that is left").locator("label", has_text="Low").click()
    page.get_by_label("Why it is judged so").fill("Dilute, short, and gloves are worn.")
    page.get_by_role("group", name="Open to people under 18").locator("label", has_text="No").click()
    page.get_by_label("Next review").fill((date.today() + timedelta(days=365)).isoformat())  # noqa: DTZ011 - as typed
    technician.shoot("sds-assessment")
    page.get_by_role("button", name="Save and send for approval").click()
    expect(page.get_by_role("status").first).to_contain_text("waits for approval")


def _approve(adviser: Screen) -> None:
    page = adviser.page
    adviser.open("/")
    page.get_by_role("link", name="Read and approve", exact=True).click()
    adviser.shoot("sds-approve")
    page.get_by_role("button", name="Approve version 1").click()
    expect(page.get_by_role("status").first).to_contain_text("Version 1 is approved")


def _name_first(manager: Screen, name: str, competence: str) -> None:
    """Nobody here holds it yet, so the manager names who is the first, alone and with a reason."""
    page = manager.page
    manager.open(f"/competences?find={name.split()[0]}")
    page.get_by_role("link", name=name).first.click()
    page.get_by_role("link", name="Grant a competence").click()
    choose(page, competence)
    page.get_by_label("If nobody else saw it, why").fill("Nobody here held it before")
    page.get_by_role("button", name="Grant it").click()
    expect(page.locator("main")).to_contain_text("granted by Mara Quill alone, unwitnessed")
    manager.shoot("sds-first-competent")


def _mix(technician: Screen) -> str:
    """A line first, for there is none; then a bath for it. Gives the address of the bath."""
    page = technician.page
    technician.open("/")
    page.get_by_role("link", name="Add a line of baths").click()
    page.get_by_label("Name of the line").fill("Film sink")
    choose(page, "Film")
    choose(page, "A tank with a floating lid")
    page.get_by_role("button", name="Add the line").click()
    page.get_by_role("link", name="Mix a bath for it").click()
    page.get_by_role("link", name=CONCENTRATE).first.click()
    choose(page, "1+4 for film")
    page.get_by_label("Working solution to mix").fill("1 L")
    page.get_by_label("What the vessel holds when full").fill("1.5 L")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_label("Measured out of it").first.fill("200")
    page.get_by_label("Water", exact=True).fill("800")
    technician.shoot("sds-mix")
    page.get_by_role("button", name="Save the bath").click()
    expect(page.get_by_role("status").first).to_contain_text("is mixed")
    technician.shoot("sds-bath")
    return page.url


def _issue_label(technician: Screen, bath: str) -> str:
    """The words on the label as it comes out of the PDF."""
    page = technician.page
    page.goto(bath)
    page.get_by_role("link", name="Label").first.click()
    technician.shoot("sds-label")
    page.get_by_role("button", name="Issue the label as PDF").click()
    page.wait_for_url("**/documents/*")
    answer = technician.context.request.get(page.url)
    assert answer.headers["content-type"] == "application/pdf"
    return pdf_text(answer.body())
