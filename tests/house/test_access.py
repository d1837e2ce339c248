"""The access walk: what each role meets at each rule and method, tried for real.

`tests/access.csv` has a row for each rule, method and whose object it is (own, another's, or - where that makes no
difference), and a column for each role. A route that is not in it fails, a row without a route fails.

open: the page or the act itself answers · refused: 403 · hidden: 404 · sign-in: sent to sign in first
"""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from labsys.people.models import Role
from tests.support.everything import furnish
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field

NOBODY = "nobody"
ROLES = (NOBODY, *Role)
with (Path(__file__).parents[1] / "access.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
SAFE = {"GET", "HEAD", "OPTIONS"}
INSPECTED = (Role.MANAGER, Role.TECHNICIAN)  # they see most; the walk along links inspects the pages of all

pytestmark = pytest.mark.sqlite_only


def verdict(response: TestResponse) -> str:
    if response.status_code == 403:
        return "refused"
    if response.status_code == 404:
        return "hidden"
    if response.status_code == 303 and response.location.partition("?")[0] == "/sign-in":
        return "sign-in"
    assert response.status_code < 500, response.status
    assert b"open too long" not in response.data, "the token was not accepted"
    return "open"


@pytest.fixture
def path_for(lab: SmallLab) -> Callable[[str, str, str], str]:
    """Fill the arguments of a rule with a row of the small lab: one's own, or another's."""
    furnished = furnish(lab)

    def fill(rule: str, whose: str, role: str) -> str:
        values = furnished(whose, role)
        parts = []
        for part in rule.split("/"):
            if part.startswith("<"):
                part = str(values[part.strip("<>").rpartition(":")[2]])
            parts.append(part)
        return "/".join(parts)

    return fill


def test_the_table_names_every_route_and_no_other(app: Flask):
    routes = {(rule.rule, method) for rule in app.url_map.iter_rules() for method in rule.methods - {"HEAD", "OPTIONS"}}
    assert {(row["rule"], row["method"]) for row in ROWS} == routes


@pytest.fixture
def visitors(client_as: Callable[..., FlaskClient]) -> Callable[..., FlaskClient]:
    """Give clients of a role that know each other's token, and nothing else of each other."""

    def of(role: str) -> Callable[[], FlaskClient]:
        named = None if role == NOBODY else role
        first = client_as(named)
        page = first.get("/sign-in" if role == NOBODY else "/account").get_data(as_text=True)
        cookie = first.get_cookie("session")
        assert cookie is not None

        def another() -> FlaskClient:
            client = client_as()
            client.set_cookie("session", cookie.value)
            client.token = hidden_field(page, "csrf_token")
            client.inspects = role in INSPECTED
            return client

        return another

    return of


@pytest.mark.parametrize("role", ROLES)
def test_each_role_meets_what_the_table_says(
    role: str, visitors: Callable[..., FlaskClient], path_for: Callable[[str, str, str], str]
):
    """One lab for all rows of a role: what a row does may change the lab, never who may do what."""
    wrong = []
    visitor = visitors(role)
    for row in ROWS:
        client = visitor()
        sent = {} if row["method"] in SAFE else {"csrf_token": client.token}
        with client.open(path_for(row["rule"], row["whose"], role), method=row["method"], data=sent) as response:
            met = verdict(response)
        if met != row[role]:
            wrong.append(f"{row['method']} {row['rule']} ({row['whose']}): {met}, not {row[role]}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("role", [role for role in ROLES if role != NOBODY])
def test_no_unsafe_method_works_without_its_token(
    role: str, client_as: Callable[..., FlaskClient], path_for: Callable[[str, str, str], str]
):
    client = client_as(role)
    client.inspects = False  # the page that says so is always the same, and others look at it
    for row in ROWS:
        if row["method"] not in SAFE:
            response = client.open(path_for(row["rule"], row["whose"], role), method=row["method"])
            assert response.status_code == 400, f"{row['method']} {row['rule']}: {response.status}"
