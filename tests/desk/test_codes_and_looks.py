"""Finding what a code stands on, and the look of the screen."""

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from labsys.baths.models import BathLine
from labsys.chemistry.care import SolutionKind
from labsys.records.models import CodeKind
from labsys.records.rules import write_code
from tests.conftest import Content
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, source

ClientAs = Callable[..., FlaskClient]


@pytest.fixture
def codes(lab: SmallLab) -> dict[str, str]:
    """A code of each kind that the small lab has, and where it leads."""
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle, container = lab.add_bottle(SolutionKind.STOP), lab.open_container()
    line = lab.session.get_one(BathLine, lab.film_line_id)
    return {
        bath.code: f"/baths/{bath.id}",
        bottle.code: f"/store/bottles/{bottle.id}",
        container.label: f"/waste/containers/{container.id}",
        line.code: f"/baths/lines/{line.id}",
    }


def test_a_code_leads_to_what_it_stands_on_typed_or_scanned(client_as: ClientAs, codes: dict[str, str]) -> None:
    client = client_as("member")
    for code, page in codes.items():
        spaced = code.lower().replace("-", "+")
        for path in (f"/c/{code}", f"/find?q={code}", f"/find?q=+{spaced}", f"/find-code?code={code}"):
            answer = client.get(path)
            assert (answer.status_code, answer.location) == (302, page)


@pytest.mark.sqlite_only
def test_the_box_is_there_before_anything_is_typed(client_as: ClientAs) -> None:
    for path in ("/find", "/find-code"):
        answer = client_as("member").get(path)
        assert answer.status_code == 200
        assert "Enter a code" not in source(answer)
        assert "Nothing found" not in source(answer)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "Enter a code, a name or a lot."),
        (" ", "Enter a code, a name or a lot."),
        ("AS-T0001-0", "the check character does not fit."),
        (write_code(prefix="KD", kind=CodeKind.BATH, number=1), "This code belongs to another lab (KD)."),
        (write_code(prefix="AS", kind=CodeKind.BATH, number=999), "was made here."),
    ],
)
def test_a_wrong_code_says_why_and_gives_the_box_again(client_as: ClientAs, typed: str, reason: str) -> None:
    client = client_as("member")
    for answer in [client.get("/find", query_string={"q": typed})] + [
        client.get(f"/c/{typed}") for _ in [1] if typed.strip()
    ]:
        assert answer.status_code == 422
        assert reason in source(answer)
        assert f'value="{typed.strip()}"' in source(answer)


@pytest.mark.sqlite_only
def test_what_is_scanned_is_a_code_and_no_name(client_as: ClientAs, codes: dict[str, str]) -> None:
    answer = client_as("member").get("/c/fixer")
    assert answer.status_code == 422
    assert "A code here looks like AS-T0041-U." in source(answer)


@pytest.mark.sqlite_only
def test_a_wrong_code_cannot_write_into_the_page(client_as: ClientAs) -> None:
    answer = client_as("member").get("/find", query_string={"q": "<b>"})
    assert "<b>" not in source(answer)


@pytest.mark.sqlite_only
def test_a_scan_is_kept_through_signing_in(client_as: ClientAs, codes: dict[str, str]) -> None:
    code = next(iter(codes))
    answer = client_as().get(f"/c/{code}")
    assert (answer.status_code, answer.location) == (303, f"/sign-in?next=/c/{code}")


def choose(client: FlaskClient, look: str, target: str = "/sign-in"):
    token = hidden_field(source(client.get("/sign-in")), "csrf_token")
    return client.post("/look", data={"csrf_token": token, "look": look, "next": target})


@pytest.mark.sqlite_only
@pytest.mark.parametrize("look", ["day", "evening", "low"])
def test_a_look_is_kept_on_the_device_for_a_year(client_as: ClientAs, look: str) -> None:
    client = client_as()
    answer = choose(client, look)
    assert (answer.status_code, answer.location) == (303, "/sign-in")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith(f"look={look};")
    for part in ("Max-Age=31536000", "Path=/", "SameSite=Lax", "HttpOnly"):
        assert part in cookie
    assert f'data-look="{look}"' in source(client.get("/sign-in"))


@pytest.mark.sqlite_only
def test_the_cookie_is_secure_where_the_site_is(new_app: Callable[..., Flask]) -> None:
    client = new_app(Content.LAB, public_url="https://lab.example.org").test_client()
    token = hidden_field(source(client.get("/sign-in", base_url="https://lab.example.org")), "csrf_token")
    answer = client.post(
        "/look",
        base_url="https://lab.example.org",
        headers={"Referer": "https://lab.example.org/sign-in"},
        data={"csrf_token": token, "look": "low"},
    )
    assert "Secure" in answer.headers["Set-Cookie"]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("target", "reached"),
    [
        ("/find-code?code=x", "/find-code?code=x"),
        ("//elsewhere.example", "/"),
        ("https://elsewhere.example", "/"),
        ("/sign-out", "/"),
        ("", "/"),
    ],
    ids=["kept", "other site", "address", "takes only a POST", "none"],
)
def test_choosing_a_look_comes_back_to_where_one_was(client_as: ClientAs, target: str, reached: str) -> None:
    assert choose(client_as(), "low", target).location == reached


@pytest.mark.sqlite_only
def test_there_is_no_other_look(client_as: ClientAs) -> None:
    answer = choose(client_as(), "sepia")
    assert answer.status_code == 400
    assert "look=" not in answer.headers.get("Set-Cookie", "")
