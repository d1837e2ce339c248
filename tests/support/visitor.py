"""Somebody at a browser without JavaScript: opens pages, fills in forms as they stand, presses buttons."""

from typing import Any
from urllib.parse import urlencode, urlsplit
from xml.etree import ElementTree

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.support.pages import HTML, as_it_stands, controls, pdf_text, tree, words


class Visitor:
    """One person's browser. `page` is the text of the page last opened."""

    def __init__(self, app: Flask):
        self.client: FlaskClient = app.test_client()
        self.path = "/"
        self.page = ""

    def open(self, path: str) -> str:
        """Open a page, following where it leads; it must answer with 200."""
        response = self.client.get(path, follow_redirects=True)
        assert response.status_code == 200, f"{path}: {response.status}"
        self._remember(response)
        return self.page

    def sign_in(self, email: str, password: str) -> None:
        self.open("/sign-in")
        self.send(email=email, password=password)
        assert "Sign out" in self.page, self.page

    def send(self, *, action: str | None = None, expect: int = 200, **values: Any) -> str:
        """Fill in the page's form, or the one with this action, send it, and follow where it leads.

        What is not named stays as the page has it; a list ticks several.
        """
        return self._send(self._form(action), expect=expect, **values)

    def _send(self, form: ElementTree.Element, *, expect: int, **values: Any) -> str:
        data = as_it_stands(form)
        for name, value in values.items():
            assert name in _names(form), f"{self.path}: no field {name} among {sorted(_names(form))}"
            data[name] = value
        target = form.get("action") or self.path
        if form.get("method", "get").lower() == "get":
            query = urlencode(data, doseq=True)
            response = self.client.get(f"{urlsplit(target).path}?{query}", follow_redirects=True)
        else:
            response = self.client.post(target, data=data, follow_redirects=True)
        assert response.status_code == expect, f"{target}: {response.status}\n{_complaints(response)}"
        self._remember(response)
        return self.page

    def press(self, label: str, *, expect: int = 200) -> str:
        """Press the button with this label, leaving its form as it stands."""
        for form in self._forms():
            if any(words(one) == label for one in form.iter(HTML + "button")):
                return self._send(form, expect=expect)
        raise AssertionError(f"{self.path}: no button {label!r}")

    def option(self, name: str, label: str) -> str:
        """The value of the choice whose words hold this label, in a list or among radio buttons."""
        page = tree(self.page)
        for select in page.iter(HTML + "select"):
            if select.get("name") == name:
                for one in select.iter(HTML + "option"):
                    if label in words(one):
                        return str(one.get("value"))
        for wrapped in page.iter(HTML + "label"):
            control = wrapped.get("for")
            for one in page.iter(HTML + "input"):
                if one.get("name") == name and one.get("id") == control and label in words(wrapped):
                    return str(one.get("value"))
        raise AssertionError(f"{self.path}: no choice {label!r} for {name}")

    def link(self, label: str) -> str:
        """Where the link with this label leads."""
        page = tree(self.page)
        found = [one.get("href") for one in page.iter(HTML + "a") if label in words(one)]
        assert found, f"{self.path}: no link {label!r}"
        return str(found[0])

    def follow(self, label: str) -> str:
        return self.open(self.link(label))

    def pdf(self) -> str:
        """The words of the PDF that was answered last."""
        assert self.answer.mimetype == "application/pdf"
        return pdf_text(self.answer.data)

    def _remember(self, response: TestResponse) -> None:
        self.path = response.request.full_path.rstrip("?")
        self.page = response.get_data(as_text=True) if response.mimetype == "text/html" else ""
        self.answer = response

    def _forms(self) -> list[ElementTree.Element]:
        return list(tree(self.page).iter(HTML + "form"))

    def _form(self, action: str | None) -> ElementTree.Element:
        if action is not None:
            found = [form for form in self._forms() if form.get("action") == action]
        else:
            found = [form for form in self._forms() if "form" in (form.get("class") or "").split()]
        assert found, f"{self.path}: no form {action or ''}"
        return found[0]


def _names(form: ElementTree.Element) -> set[str]:
    buttons = {one.get("name") for one in form.iter(HTML + "button") if one.get("name")}
    return {str(one.get("name")) for one in controls(form)} | {str(name) for name in buttons}


def _complaints(response: TestResponse) -> str:
    if response.mimetype != "text/html":
        return ""
    page = tree(response.get_data(as_text=True))
    told = [words(one) for one in page.iter() if one.get("role") == "alert" or "error" in (one.get("class") or "")]
    return "; ".join(told) or words(page)[:500]
