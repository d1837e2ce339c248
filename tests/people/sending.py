"""Signing in as a browser does."""

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.support.lab import PASSWORD
from tests.support.pages import send


def sign_in(
    client: FlaskClient, *, password: str = PASSWORD, path: str = "/sign-in", **changes: object
) -> TestResponse:
    return send(client, path, **{"email": "member@example.org", "password": password, **changes})
