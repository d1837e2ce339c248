"""Sending the forms of this room."""

from sqlalchemy import event

from labsys.database import db
from tests.support.client import hidden_field


def text(response):
    return response.get_data(as_text=True)


def send(client, path, *, key=None, to=None, **fields):
    """Open the form, fill it in and send it."""
    page = text(client.get(path))
    sent = {
        "csrf_token": hidden_field(page, "csrf_token"),
        "submission_key": key or hidden_field(page, "submission_key"),
        **fields,
    }
    return client.post(to or path, data=sent)


def count_queries(lab, client, path):
    """How many queries a page costs that knows nothing yet."""
    made = []

    def note(_connection, _cursor, statement, *_):
        made.append(statement)

    lab.session.rollback()
    lab.session.expunge_all()
    event.listen(db.engine, "before_cursor_execute", note)
    try:
        assert client.get(path).status_code == 200
    finally:
        event.remove(db.engine, "before_cursor_execute", note)
    return len(made)
