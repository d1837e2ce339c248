"""A place booked by the keyboard alone, and by thumb on a phone, from the week to the booking."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]

SUNDAY = "2026-05-17"
MOST_KEYS = 400


def tab_to(page: Page, words: str) -> None:
    """Press Tab until what has the focus says this, whether in words that are seen or heard, or begins with it."""
    for _ in range(MOST_KEYS):
        page.keyboard.press("Tab")
        focused = " ".join(page.evaluate("document.activeElement.textContent").split())
        if focused == words or focused.startswith(f"{words} "):
            return
    raise AssertionError(f"no key press reaches: {words}")


def test_a_place_is_booked_by_the_keyboard_alone(screen: Callable[..., Screen]):
    here = screen(SIZES["desktop"])
    page = here.page
    here.sign_in(PEOPLE["member"])
    here.open("/bookings")
    tab_to(page, "Sun 17")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**day={SUNDAY}")
    here.shoot("week")
    tab_to(page, "Free 11:00 to 12:00: book Large-format enlarger")
    page.keyboard.press("Enter")
    page.wait_for_url("**/bookings/book?**")
    tab_to(page, "Check")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Large-format enlarger and Wet side")
    here.shoot("check")
    tab_to(page, "Book")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("11:00 to 13:00")
    tab_to(page, "Cancel this booking")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("cancelled")


def test_a_place_is_booked_by_thumb_on_a_phone(screen: Callable[..., Screen]):
    here = screen(SIZES["phone"])
    page = here.page
    here.sign_in(PEOPLE["member"])
    here.open("/bookings")
    page.locator(".week").get_by_role("link", name="Sun 17").click()
    expect(page.locator("table.board")).to_be_hidden()
    page.locator(".free-times").get_by_role("link", name="book Large-format enlarger").first.click()
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.locator("main")).to_contain_text("Large-format enlarger")
    here.shoot("booked-by-thumb")
    page.get_by_role("button", name="Cancel this booking").click()
    expect(page.locator("main")).to_contain_text("cancelled")
