"""Help in a real browser: in the corner of every page, in each look, and kept for where nothing answers."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("look", ["day", "evening", "low"])
def test_help_is_one_touch_away_and_reads_in_every_look(screen: Callable[..., Screen], size: str, look: str):
    here = screen(SIZES[size], look=look)
    page = here.page
    here.open("/sign-in")
    here.shoot("sign-in-with-help")
    page.get_by_role("link", name="Help", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Help first. Write it down later.")
    ring = page.get_by_role("link", name="Call 999")
    assert ring.get_attribute("href") == "tel:999"
    assert ring.bounding_box()["height"] >= 44
    here.shoot("help")


def test_a_phone_that_opened_any_page_before_has_help_without_a_network(screen: Callable[..., Screen]):
    here = screen(SIZES["phone"])
    page = here.page
    here.sign_in(PEOPLE["member"])
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    here.open("/incidents/report")
    page.locator("label", has_text="Near miss").click()
    page.get_by_label("What happened").fill("Fixer on the floor")
    here.context.set_offline(True)
    page.get_by_role("button", name="Report it").click()
    expect(page.get_by_role("alert")).to_contain_text("NOBODY HAS BEEN TOLD. Ring 999")
    expect(page.get_by_role("alert")).to_contain_text("Front desk 01632 960147")
    here.shoot("no-network")
    page.get_by_role("link", name="Help", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Help first. Write it down later.")
    expect(page.locator("main")).to_contain_text("Nobody goes back in, even to rescue")
    expect(page.get_by_role("alert")).to_have_count(0)
    here.context.set_offline(False)
    here.open("/")
    expect(page.locator("main")).not_to_contain_text("No network here")
    here.complaints.clear()  # the browser's own words about the network that was taken away
