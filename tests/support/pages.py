"""Pages and papers as a person reads them, forms as a browser sends them, and what a page asks of the database."""

import io
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from html import unescape
from typing import Any
from xml.etree import ElementTree

import html5lib
from flask.testing import FlaskClient
from pypdf import PdfReader
from sqlalchemy import event
from werkzeug.test import TestResponse

from labsys.database import db

HTML = "{http://www.w3.org/1999/xhtml}"
_CARRIED = ("csrf_token", "submission_key", "version", "edition")  # what a form says without anybody typing it

# Reading


@lru_cache(maxsize=64)
def strict_tree(page: str) -> ElementTree.Element:
    """The elements of a page, each page parsed once; raises html5lib's ParseError unless it is valid."""
    parsed: ElementTree.Element = html5lib.HTMLParser(strict=True, tree=html5lib.getTreeBuilder("etree")).parse(page)
    return parsed


@lru_cache(maxsize=16)
def tree(part: str) -> ElementTree.Element:
    """The elements of a page, or of a part of one."""
    if part.lstrip().lower().startswith("<!doctype html>"):
        return strict_tree(part)
    parsed: ElementTree.Element = html5lib.parse(part, treebuilder="etree")
    return parsed


def source(response: TestResponse) -> str:
    """A page as it was sent."""
    return response.get_data(as_text=True)


def page_at(client: FlaskClient, path: str) -> str:
    """A page that must be there, as it was sent."""
    response = client.get(path)
    assert response.status_code == 200, f"{path}: {response.status}"
    return source(response)


def words(element: ElementTree.Element) -> str:
    return re.sub(r"\s+", " ", "".join(element.itertext())).strip()


def text(response: TestResponse) -> str:
    """The words of a page, without its marks."""
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", source(response))))


def links(page: str) -> list[str]:
    """Where the links of a page lead."""
    return [link.get("href", "") for link in tree(page).iter(HTML + "a") if link.get("href")]


def pdf_text(content: bytes) -> str:
    """The words of a PDF, white space made one."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages)


# Sending


def hidden_field(page: str, name: str) -> str:
    """The value of the first hidden field of a name, such as a submission key."""
    return next(field.get("value", "") for field in tree(page).iter(HTML + "input") if field.get("name") == name)


def hidden(page: str, names: tuple[str, ...] = _CARRIED) -> dict[str, str]:
    """What a page's form carries without anybody typing it."""
    carried: dict[str, str] = {}
    for field in tree(page).iter(HTML + "input"):
        if (name := field.get("name", "")) in names:
            carried.setdefault(name, field.get("value", ""))
    return carried


def send(
    client: FlaskClient,
    path: str,
    typed: Mapping[str, Any] | None = None,
    /,
    *,
    at: str | None = None,
    opened: str = "",
    key: str | None = None,
    **fields: Any,
) -> TestResponse:
    """Open a form, fill it in and send it.

    What is typed may be named by a mapping, where its names are no Python names. `at` is the page of the form where it
    is not `path`; `opened` is a page that was opened earlier; `key` is the submission key of an earlier one.
    """
    carried = hidden(opened or source(client.get(at or path)))
    return client.post(path, data={**carried, **({"submission_key": key} if key else {}), **(typed or {}), **fields})


def press(client: FlaskClient, action: str, *, at: str = "", opened: str = "", **fields: Any) -> TestResponse:
    """Press the button that posts to this address, on a page."""
    page = opened or source(client.get(at))
    form = next((form for form in tree(page).iter(HTML + "form") if form.get("action") == action), None)
    assert form is not None, f"no button for {action}"
    return client.post(action, data={**as_it_stands(form), **fields})


def fill_in(client: FlaskClient, path: str, **fields: Any) -> TestResponse:
    """Open a form, change some of it, and send all of it."""
    return client.post(path, data={**as_it_stands(form_of(source(client.get(path)))), **fields})


def form_of(page: str) -> ElementTree.Element:
    """The large form of a page."""
    return next(form for form in tree(page).iter(HTML + "form") if "form" in (form.get("class") or "").split())


def controls(form: ElementTree.Element) -> list[ElementTree.Element]:
    kinds = {HTML + kind for kind in ("input", "select", "textarea")}
    return [control for control in form.iter() if control.tag in kinds and control.get("name")]


def as_it_stands(form: ElementTree.Element) -> dict[str, Any]:
    """What a form would send untouched."""
    data: dict[str, Any] = {}
    for control in controls(form):
        name, kind = control.get("name", ""), control.get("type", "text")
        if control.tag == HTML + "select":
            options = list(control.iter(HTML + "option"))
            selected = [option for option in options if option.get("selected") is not None]
            for option in (selected or options)[:1]:
                data[name] = option.get("value", words(option))
        elif control.tag == HTML + "textarea":
            data[name] = control.text or ""
        elif kind in ("radio", "checkbox"):
            if control.get("checked") is not None:
                data.setdefault(name, []).append(control.get("value", "on"))
        elif kind != "submit":
            data[name] = control.get("value", "")
    return data


# Counting


@contextmanager
def statements() -> Iterator[list[str]]:
    """The statements sent to the database meanwhile."""
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_others: object) -> None:
        sent.append(statement)

    event.listen(db.engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(db.engine, "before_cursor_execute", note)


def queries_for(asking: Callable[[], object]) -> int:
    """How many statements it takes to find something out for who knows nothing yet."""
    db.session.rollback()
    db.session.expunge_all()
    with statements() as sent:
        asking()
    return len(sent)


def queries_of(client: FlaskClient, path: str) -> int:
    """How many statements a page takes."""
    with statements() as sent:
        page_at(client, path)
    return len(sent)
