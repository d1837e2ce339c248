"""A term in a real browser: a course of eighteen set up in one sitting, a scan to arrive, a broken enlarger closed."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, expect

from tests.browser.conftest import DESKTOP, PHONE, ROOT, Screen, served, windows
from tests.browser.serve_course import CLEARED, EIGHTEEN
from tests.browser.serve_demo import TODAY
from tests.browser.test_demo_walk import PEOPLE, SIZES
from tests.support.pages import pdf_text

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]


@pytest.fixture(scope="module")
def address(played: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a lab of its own, where eighteen wait to be put on a roster."""
    with served("tests.browser.serve_course", played, tmp_path_factory.mktemp("course")) as address:
        yield address


@pytest.fixture
def window(chromium: Browser, address: str) -> Iterator[Callable[..., Screen]]:
    yield from windows(chromium, address)


def shoot(here: Screen, name: str) -> None:
    """Look at a page at both widths."""
    for size, pixels in SIZES.items():
        here.page.set_viewport_size({"width": pixels[0], "height": pixels[1]})
        here.name = size
        here.shoot(name)
    here.page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})


@dataclass
class Hand:
    """Counts what a hand does: a control that is filled, a choice made, a link or button pressed, each one touch."""

    touches: int = 0

    def press(self, what: Locator) -> None:
        self.touches += 1
        what.click()

    def fill(self, what: Locator, value: str) -> None:
        self.touches += 1
        what.fill(value)

    def choose(self, what: Locator, label: str) -> None:
        self.touches += 1
        what.select_option(label=label)

    def give(self, what: Locator, path: Path) -> None:
        self.touches += 1
        what.set_input_files(path)


def day(days: int) -> str:
    return (TODAY + timedelta(days=days)).date().isoformat()


def test_a_term_of_twelve_weeks_for_eighteen_in_one_form_and_at_most_25_touches_and_they_scan_to_arrive(
    window: Callable[..., Screen], tmp_path: Path
):
    roster = tmp_path / "roster.csv"
    lines = [f"{name},{email}" for name, email in EIGHTEEN]
    roster.write_text("\n".join(["Name,E-mail", *lines]), encoding="utf-8")
    here, hand = window(), Hand()
    page = here.page
    here.sign_in(PEOPLE["instructor"])
    hand.press(page.get_by_role("link", name="Courses", exact=True))
    hand.press(page.get_by_role("link", name="Set up a course").first)
    form = page.url
    hand.fill(page.get_by_label("Course", exact=True), "First prints")
    hand.fill(page.get_by_label("Term", exact=True), "summer 2026")
    hand.choose(page.get_by_label("Place", exact=True), "Enlargers")
    hand.fill(page.get_by_label("How many meetings"), "12")
    hand.choose(page.get_by_label("From"), "16:15")
    hand.choose(page.get_by_label("To", exact=True), "18:15")
    hand.give(page.get_by_label("Or a file"), roster)
    shoot(here, "course-form")
    hand.press(page.get_by_role("button", name="Show the dates"))
    assert page.url == form
    expect(page.locator("main")).to_contain_text("18 of 18 rows can go on the roster")
    shoot(here, "course-dates")
    hand.press(page.get_by_role("button", name="Book the term"))
    expect(page.locator("main")).to_contain_text("12 meetings booked, 18 on the roster")

    # Who may not start stands on the page; a week is moved for a holiday, and the register printed.
    expect(page.locator("main")).to_contain_text("Three of 18 may not start.")
    for name, _ in EIGHTEEN[CLEARED:]:
        expect(page.locator(".caution:visible").first).to_contain_text(name)
    shoot(here, "course")
    course = page.url
    hand.press(page.locator("tr", has_text="Thu 9 Jul").get_by_role("link", name="Move"))
    hand.fill(page.get_by_label("Day"), "2026-07-10")
    hand.press(page.get_by_role("button", name="Move it"))
    expect(page.locator("main")).to_contain_text("It meets Fri 10 Jul 2026, 16:15 to 18:15 now.")
    with page.expect_response(lambda answer: "/documents/" in answer.url and answer.request.method == "GET") as sheet:
        hand.press(page.get_by_role("button", name="Print the register"))
    paper = here.context.request.get(sheet.value.url).body()
    assert "Student 18" in pdf_text(paper)
    assert "10 Jul" in pdf_text(paper)
    assert "Scan when you come" in pdf_text(paper)
    assert hand.touches <= 25
    (ROOT / ".screens" / "attendance.pdf").write_bytes(paper) if (ROOT / ".screens").is_dir() else None

    # A student scans the code at the door: it asks them to sign in, and leads to the meeting that is on.
    student = window(PHONE)
    door = f"{course}/here".removeprefix(student.base)
    student.open(door)
    assert "/sign-in" in student.page.url
    student.page.get_by_label("E-mail").fill(EIGHTEEN[0][1])
    student.page.get_by_label("Password").fill("developer stop fixer wash")
    student.page.get_by_role("button", name="Sign in").click()
    expect(student.page.get_by_role("button", name="I am here")).to_be_visible()
    student.shoot("course-door")
    student.page.get_by_role("button", name="I am here").click()
    expect(student.page.locator("main")).to_contain_text("You are on the register, since 16:0")
    student.shoot("course-here")
    page.goto(course)
    page.get_by_role("link", name="Take the register").click()
    expect(page.locator("main")).to_contain_text("1 of 18 are here.")
    shoot(here, "course-register")


def test_a_broken_enlarger_is_closed_for_three_days_and_its_five_bookings_move_in_one_act(
    window: Callable[..., Screen],
):
    here, hand = window(), Hand()
    page = here.page
    here.sign_in(PEOPLE["technician"])
    here.open("/places/closures/add")
    hand.choose(page.get_by_label("What is closed"), "Enlargers 1")
    hand.fill(page.get_by_label("Closed from"), f"{day(1)}T00:00")
    hand.fill(page.get_by_label("Open again from"), f"{day(4)}T00:00")
    hand.fill(page.get_by_label("Why"), "new lamp")
    hand.press(page.get_by_role("button", name="Close for this time"))
    expect(page.locator("main")).to_contain_text("It hits 5 booked then")
    assert page.locator("select[name^=answer-]").count() == 5
    shoot(here, "closing-hits")
    hand.press(page.get_by_role("button", name="Close, and do this"))
    expect(page.locator("main")).to_contain_text("Enlargers 1 is closed then. 5 booked then")
    assert hand.touches <= 6
    here.open(f"/bookings?day={day(1)}")
    expect(page.locator("main")).to_contain_text("Enlargers 1 is closed")
    shoot(here, "closing-board")
