"""Who is in the building, touched on an instructor's phone while the network is gone and back."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]


@pytest.mark.parametrize("size", SIZES)
def test_a_touch_without_a_network_is_kept_and_sent_once_there_is_one(screen: Callable[..., Screen], size: str):
    here = screen(SIZES[size])
    page = here.page
    here.sign_in(PEOPLE["instructor"])
    here.open("/building")
    here.shoot("building")
    name = f"A visitor of the {size}"
    odile = page.locator(".heads li", has_text="Odile Trantervane")
    here.context.set_offline(True)
    page.get_by_label("Who came").fill(name)
    page.get_by_role("button", name="In", exact=True).last.click()
    odile.get_by_role("button").click()
    expect(page.locator("[data-unsent]")).to_contain_text("2 entries are kept on this device, not sent yet.")
    expect(odile).to_contain_text("kept on this device")
    here.shoot("building-without-network")
    here.context.set_offline(False)
    visitor = page.locator(".heads li", has_text=name)
    expect(visitor).to_contain_text("guest, in since")
    expect(odile).to_contain_text("signed in, in since")
    expect(page.locator("[data-unsent]")).to_be_hidden()
    # taken out again, so that the other width begins as this one did
    for row in (visitor, odile):
        row.get_by_role("button").click()
        expect(row.filter(has_text="in since")).to_have_count(0)
    here.complaints.clear()  # the browser's own words about the network that was taken away
