"""The day in a real browser: book, see what is missing, plan, issue the sheet, sign off a class; phone and desktop."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]

TOMORROW = "2026-05-15"


@pytest.mark.parametrize("size", SIZES)
def test_a_place_is_booked_planned_and_given_back(screen: Callable[..., Screen], size: str):
    here = screen(SIZES[size])
    page = here.page
    here.sign_in(PEOPLE["member"])
    here.open(f"/bookings/book?day={TOMORROW}")
    page.get_by_label("Place").select_option(label="Film sink")
    page.get_by_label("From").select_option(label="17:00")
    page.get_by_label("To", exact=True).select_option(label="19:00")
    page.get_by_label("Process").select_option(label="Black-and-white film")
    page.get_by_label("Size").select_option(label="120")
    page.get_by_role("spinbutton", name="How many").fill("2")
    here.shoot("book")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.get_by_role("status").first).to_be_visible()
    booking = page.url
    here.shoot("booking")

    page.get_by_role("link", name="Session plan").click()
    expect(page.locator("main")).to_contain_text("Total darkness")
    here.shoot("session-plan")
    with page.expect_response(lambda answer: "/documents/" in answer.url and answer.request.method == "GET") as sheet:
        page.get_by_role("button", name="Issue the session sheet as PDF").click()
    assert sheet.value.headers["content-type"] == "application/pdf"

    page.goto(booking)
    page.get_by_role("button", name="Cancel this booking").click()
    expect(page.locator("main")).to_contain_text("cancelled")


@pytest.mark.parametrize("size", SIZES)
def test_whoever_lacks_an_induction_is_told_what_and_where_to_get_it(screen: Callable[..., Screen], size: str):
    here = screen(SIZES[size])
    page = here.page
    here.sign_in("bryn@kelderwick.example")
    here.open(f"/bookings/book?day={TOMORROW}")
    page.get_by_label("Place").select_option(label="Film sink")
    page.get_by_label("From").select_option(label="17:00")
    page.get_by_label("To", exact=True).select_option(label="19:00")
    page.get_by_label("Process").select_option(label="Black-and-white film")
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.get_by_role("alert").first).to_contain_text("Skin care")
    expect(page.get_by_role("alert").first).to_contain_text("Imre holds it on Tuesdays")
    here.shoot("not-cleared")
