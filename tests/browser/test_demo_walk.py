"""The demonstration lab walked by each role, at phone and desktop width, in the three looks."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import DESKTOP, PHONE, Screen

pytestmark = [pytest.mark.browser, pytest.mark.sqlite_only]

PEOPLE = {
    "member": "lukasz@kelderwick.example",
    "instructor": "imre@kelderwick.example",
    "technician": "joss@kelderwick.example",
    "safety-adviser": "odile@kelderwick.example",
    "manager": "rosalind@kelderwick.example",
}
SIZES = {"phone": PHONE, "desktop": DESKTOP}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", PEOPLE)
def test_every_page_in_the_menu_opens_for_each_role_and_fits_its_window(
    screen: Callable[..., Screen], role: str, size: str
):
    here = screen(SIZES[size])
    here.sign_in(PEOPLE[role])
    addresses = here.page.locator("nav a").evaluate_all("links => links.map(link => link.getAttribute('href'))")
    assert "/" in addresses
    for address in addresses:
        here.open(address)
        assert here.page.locator("h1").count() == 1
        here.shoot(f"{role}{address.rstrip('/').replace('/', '-') or '-today'}")


@pytest.mark.parametrize("look", ["day", "evening", "low"])
@pytest.mark.parametrize("path", ["/", "/baths", "/baths/lines/1/log", "/store", "/waste", "/documents", "/account"])
def test_axe_finds_nothing_to_object_to(screen: Callable[..., Screen], path: str, look: str):
    """WCAG 2.2 AA as far as axe can tell."""
    here = screen(PHONE, look=look)
    here.sign_in(PEOPLE["technician"])
    here.open(path)
    found = Axe().run(here.page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
    told = [f"{one['id']}: {node['html'][:120]}" for one in found.response["violations"] for node in one["nodes"]]
    assert told == []


def test_low_light_shows_nothing_brighter_than_its_red(screen: Callable[..., Screen]):
    here = screen(PHONE, look="low")
    here.sign_in(PEOPLE["member"])
    here.open("/baths")
    red, green, blue = _brightest(here)
    assert (green, blue) == (0, 0)
    assert red <= 0xEC
    here.shoot("low-light-baths")


def _brightest(here: Screen) -> tuple[int, int, int]:
    """The largest red, green and blue of the window as it is seen."""
    from io import BytesIO

    from PIL import Image

    picture = Image.open(BytesIO(here.page.screenshot())).convert("RGB")
    return tuple(high for _low, high in picture.getextrema())  # type: ignore[return-value]
