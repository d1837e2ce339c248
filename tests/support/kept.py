"""What a device sends of what was entered without a network, as static/queue.js does."""

from datetime import datetime
from typing import Any

from flask.testing import FlaskClient

Sent = dict[str, Any]


def kept(path: str, *, at: datetime, key: str, entered_by: str = "", **typed: str) -> Sent:
    """One entry as a device keeps it; its time is that of the server by now."""
    fields = [[name.replace("went_film_", "went-film-"), text] for name, text in typed.items()]
    return {"key": key, "path": path, "fields": fields, "happened": round(at.timestamp() * 1000), "who": entered_by}


def send_kept(client: FlaskClient, *entries: Sent) -> dict[str, Any]:
    """Fetch a token, send entries, and return what is answered for each by its key."""
    hello = client.get("/offline/hello").get_json()
    answer = client.post("/offline/entries", json={"entries": list(entries)}, headers={"X-CSRFToken": hello["token"]})
    assert answer.status_code == 200, answer.get_data(as_text=True)
    answers: dict[str, Any] = answer.get_json()["answers"]
    return answers
