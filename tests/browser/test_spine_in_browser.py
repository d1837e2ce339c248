"""The spine in a real browser: log in three touches, mix, test, dump, hand over, papers; phone and desktop."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Screen
from tests.browser.test_demo_walk import PEOPLE, SIZES

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]


def choose(page: Page, words: str) -> None:
    """Touch the choice with these words, as a thumb would: on its label."""
    page.locator("label", has_text=words).first.click()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_from_a_scan_a_use_is_saved_in_three_touches(screen: Callable[..., Screen], size: str, scripts: bool):
    here = screen(SIZES[size], scripts=scripts)
    here.sign_in(PEOPLE["member"])
    here.open("/baths")
    code = here.page.locator("main .card", has_text="Film developer").locator(".code").first.inner_text()
    here.open(f"/c/{code}")
    here.shoot("scan")
    here.page.get_by_role("link", name="Log a use").first.click()
    if scripts:
        choose(here.page, "135-36")
    else:
        here.page.get_by_label("135-36").fill("1")
    expect(here.page.get_by_label("135-36")).to_have_value("1")
    save = here.page.get_by_role("button", name="Save 1 of 135-36" if scripts else "Save", exact=True)
    expect(save).to_be_in_viewport()
    here.shoot("log-a-use")
    save.click()
    expect(here.page.get_by_role("heading", level=1)).to_have_text("Saved: 1 of 135-36")
    here.shoot("logged")
    here.page.get_by_role("button", name="Undo").click()
    expect(here.page.get_by_role("status").first).to_contain_text("nothing of it counts")


@pytest.mark.parametrize("size", SIZES)
def test_a_bath_from_mixing_to_the_waste_log(screen: Callable[..., Screen], size: str):
    here = screen(SIZES[size])
    page = here.page
    here.sign_in(PEOPLE["technician"])
    here.open("/baths/mix")
    here.shoot("mix-1-product")
    page.get_by_role("link", name="Rapid fixer concentrate, ammonium thiosulfate").first.click()
    choose(page, "1+4 for film")
    page.get_by_label("Working solution to mix").fill("1 L")
    choose(page, "Film sink")
    choose(page, "A tank with a floating lid")
    page.get_by_label("What the vessel holds when full").fill("1.5 L")
    here.shoot("mix-2-plan")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_label("Measured out of it").first.fill("200")
    page.get_by_label("Water", exact=True).fill("800")
    choose(page, "spare")
    here.shoot("mix-3-measured")
    page.get_by_role("button", name="Save the bath").click()
    expect(page.get_by_role("status").first).to_contain_text("is mixed")
    here.shoot("bath")
    bath = page.url

    page.get_by_role("link", name="Label").first.click()
    here.shoot("label-twin")
    page.goto(bath)
    page.get_by_role("button", name="Put in service").click()
    for seconds in ("40", "90"):
        page.goto(f"{bath}/check")
        page.get_by_label("Clearing time").fill(seconds)
        if seconds == "40":
            page.get_by_label("Taken of the fresh bath").check()
        page.get_by_role("button", name="Save the test").click()
    expect(page.locator("main")).to_contain_text("Exhausted")
    here.shoot("exhausted")

    page.goto(f"{bath}/dump")
    page.locator(".option").first.click()
    page.get_by_label("Volume really poured").fill("990 mL")
    here.shoot("dump")
    page.get_by_role("button", name="Dump it").click()
    expect(page.get_by_role("status").first).to_be_visible()

    here.open("/waste/collect")
    here.shoot("hand-over")
    here.open("/documents/waste-log")
    here.shoot("waste-log-twin")
