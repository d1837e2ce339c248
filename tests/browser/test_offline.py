"""The network gone and back in a real browser: what is entered meanwhile is kept, said to be unsent, and sent once.

The clock of the browser stands months away from that of the server: what is shown is the server's.
"""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]

READY = """async () => {
  while (!navigator.serviceWorker.controller || !(await caches.match("/offline")))
    await new Promise((soon) => setTimeout(soon, 50));
}"""
CACHED = """async () => {
  const pages = [];
  for (const name of await caches.keys()) {
    const store = await caches.open(name);
    for (const request of await store.keys()) pages.push(await (await store.match(request)).text());
  }
  return pages.join(" ");
}"""


def wait_for_worker(page: Page) -> None:
    """Until the worker answers for this page, and has the page for no network."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()  # somebody is signed in now
    page.evaluate(READY)


def test_a_use_an_arrival_and_an_incident_wait_on_the_phone_until_there_is_a_network(screen: Callable[..., Screen]):
    here = screen(SIZES["phone"])
    page = here.page
    here.sign_in(PEOPLE["instructor"])
    wait_for_worker(page)
    here.open("/baths")
    page.get_by_role("link", name="Log").first.click()
    page.wait_for_load_state()
    line = page.url
    here.context.set_offline(True)
    cell = page.locator(".cell:visible input").first
    cell.fill("2")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Without a network")
    expect(page.locator("[data-kept-entries] li")).to_have_count(1)
    page.goto(line)  # a scan leads to the same page
    page.get_by_role("button", name="I have come").click()
    expect(page.locator("[data-kept-entries] li")).to_have_count(2)
    page.get_by_text("Something happened").click()
    page.get_by_label("What happened").fill("Stop bath on the floor, without a network")
    page.locator("form", has=page.get_by_label("What happened")).get_by_role("button", name="Keep it").click()
    expect(page.locator("[data-kept-entries] li")).to_have_count(3)
    expect(page.get_by_role("alert")).to_contain_text("NOBODY HAS BEEN TOLD. Ring 999")
    here.shoot("without-a-network")
    cached = page.evaluate(CACHED)
    assert "Without a network" in cached
    for personal in (PEOPLE["instructor"], 'name="csrf_token"', "Stop bath on the floor", "Sign out"):
        assert personal not in cached
    here.context.set_offline(False)
    expect(page.locator("[data-kept-entries] li")).to_have_count(0)
    here.open("/incidents")
    expect(page.get_by_text("Stop bath on the floor, without a network")).to_have_count(1)
    here.open("/uses")
    expect(page.locator("main")).to_contain_text("14 May 2026")
    here.open("/building")
    expect(page.get_by_role("button", name="I am in")).to_have_count(0)
    page.locator(".heads li", has_text="Imre").get_by_role("button", name="Out").click()
    here.complaints.clear()  # the browser's own words about the network that was taken away


def test_signing_out_says_what_is_unsent_and_nobody_else_sends_it(screen: Callable[..., Screen]):
    here = screen(SIZES["desktop"])
    page = here.page
    here.sign_in(PEOPLE["instructor"])
    wait_for_worker(page)
    here.open("/incidents/report")
    page.evaluate("""queue.keep({
        path: "/building/touch", fields: [["who", "me"], ["way", "in"]], happened: Date.now() - 60000 })""")
    page.evaluate("queue.know('who', 'somebody else')")  # whose it is not
    page.evaluate("""queue.keep({
        path: "/building/touch", fields: [["who", "me"], ["way", "in"]], happened: Date.now() })""")
    here.open("/incidents")
    expect(page.locator("[data-unsent]")).to_contain_text("1 entry is kept on this device, not sent yet.")
    page.get_by_text("Menu").click() if page.get_by_text("Menu").is_visible() else None
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("alert")).to_contain_text("1 entry is kept on this device, not sent yet.")
    here.shoot("unsent-at-signing-out")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url(lambda url: "sign-in" in url)
    expect(page.locator("[data-unsent]")).to_contain_text("1 entry is kept on this device")
