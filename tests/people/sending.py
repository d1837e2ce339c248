"""Forms sent as a browser sends them: fetched first, then sent with their token."""

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.support.client import hidden_field
from tests.support.lab import PASSWORD


def post(client: FlaskClient, path: str, *, form_at: str | None = None, **fields: object) -> TestResponse:
    """Fetch the form, then send it with its token."""
    page = client.get(form_at or path)
    token = hidden_field(page.get_data(as_text=True), "csrf_token")
    return client.post(path, data={"csrf_token": token, **fields})


def sign_in(
    client: FlaskClient, *, password: str = PASSWORD, path: str = "/sign-in", **changes: object
) -> TestResponse:
    return post(client, path, **{"email": "member@example.org", "password": password, **changes})


def text(response: TestResponse) -> str:
    return response.get_data(as_text=True)
