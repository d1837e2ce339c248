"""Sending the forms of this room."""

from sqlalchemy import func, select

from tests.support.client import hidden_field

L = 1_000_000


def send(client, path, *, key=None, **fields):
    """Open the form, fill it in and send it."""
    page = client.get(path).get_data(as_text=True)
    sent = {
        "csrf_token": hidden_field(page, "csrf_token"),
        "submission_key": key or hidden_field(page, "submission_key"),
        **fields,
    }
    return client.post(path, data=sent)


def text(response):
    return response.get_data(as_text=True)


def count(lab, model):
    return lab.session.execute(select(func.count()).select_from(model)).scalar_one()


def pour_path(container):
    return f"/waste/containers/{container.id}/pour"


RIGHT = {"volume": "600", "what": "Fixer used once", "waste_code": "09 01 04*"}
WRONG = {"volume": "600", "what": "PQ developer 1+9", "waste_code": "09 01 01*"}
NOTE = {"note_code": "ALDERS/00001", "carrier": "Ωmega Перевозки"}
