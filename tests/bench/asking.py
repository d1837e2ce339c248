"""A question at the bench, asked by its address, and its answer as words."""

import re

from flask.testing import FlaskClient

from tests.support.pages import HTML, tree, words


def ask(client: FlaskClient, key: str, *, status: int = 200, **typed: str) -> str:
    """The words of the answer to one question, or of what is wrong with it."""
    return words(answer_element(client, key, status=status, **typed))


def answer_element(client: FlaskClient, key: str, *, status: int = 200, **typed: str):
    response = client.get("/bench", query_string={"ask": key, **typed})
    assert response.status_code == status, response.get_data(as_text=True)
    page = tree(response.get_data(as_text=True))
    opened = [one.get("id") for one in page.iter(HTML + "details") if one.get("open") is not None]
    assert opened == [key], "the question asked is the one that is opened"
    return next(one for one in page.iter() if one.get("id") == f"{key}-answer")


def amounts(client: FlaskClient, key: str, **typed: str) -> list[str]:
    """The large figures of an answer."""
    answer = answer_element(client, key, **typed)
    return [words(one) for one in answer.iter(HTML + "p") if one.get("class") == "amount"]


def numbers(told: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", told)]
