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
from tests.support.client import hidden_field
from tests.support.everything import furnish
from tests.support.lab import SmallLab

NOBODY = "nobody"
ROLES = (NOBODY, *Role)
with (Path(__file__).parents[1] / "access.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
SAFE = {"GET", "HEAD", "OPTIONS"}

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


@pytest.mark.parametrize("role", ROLES)
def test_each_role_meets_what_the_table_says(
    role: str, client_as: Callable[..., FlaskClient], path_for: Callable[[str, str, str], str]
):
    """One lab for all rows of a role: what a row does may change the lab, never who may do what."""
    wrong = []
    for row in ROWS:
        client = client_as(None if role == NOBODY else role)
        sent = {} if row["method"] in SAFE else {"csrf_token": _token(client)}
        with client.open(path_for(row["rule"], row["whose"], role), method=row["method"], data=sent) as response:
            met = verdict(response)
        if met != row[role]:
            wrong.append(f"{row['method']} {row['rule']} ({row['whose']}): {met}, not {row[role]}")
    assert not wrong, "\n".join(wrong)


def _token(client: FlaskClient) -> str:
    """The token of this client's session, as its pages carry it."""
    return hidden_field(client.get("/sign-in", follow_redirects=True).get_data(as_text=True), "csrf_token")


@pytest.mark.parametrize("role", [role for role in ROLES if role != NOBODY])
def test_no_unsafe_method_works_without_its_token(
    role: str, client_as: Callable[..., FlaskClient], path_for: Callable[[str, str, str], str]
):
    client = client_as(role)
    for row in ROWS:
        if row["method"] not in SAFE:
            response = client.open(path_for(row["rule"], row["whose"], role), method=row["method"])
            assert response.status_code == 400, f"{row['method']} {row['rule']}: {response.status}"
