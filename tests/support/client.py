"""A test client that reads every page it fetches, and objects to a bad one."""

from typing import Any
from xml.etree import ElementTree

from flask import has_app_context
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from labsys.database import db
from tests.support.pages import HTML, strict_tree, words

NOT_LABELLED = {"hidden", "submit", "button", "image", "reset"}


class InspectingClient(FlaskClient):
    """Inspects every HTML answer, and fills in nothing: forms are sent as the test says.

    Each request stands alone, as in life: a test holds an application context of its own, in which Flask would remember
    who was signed in before.
    """

    inspects = True  # a walk that judges something else may leave it

    def open(self, *args: Any, **kwargs: Any) -> TestResponse:
        if has_app_context():
            db.session.rollback()  # the test reads on from after the request
        with self.application.app_context():
            response = super().open(*args, **kwargs)
        if self.inspects and response.mimetype == "text/html" and response.data and not response.is_streamed:
            inspect(response.get_data(as_text=True), path=response.request.path, status=response.status_code)
        return response


def inspect(html: str, *, path: str, status: int = 200) -> ElementTree.Element:
    """Raise AssertionError unless the page is valid HTML, has one h1 in its title, labels, and nothing inline."""
    if 300 <= status < 400:
        return ElementTree.Element("redirect")
    page = strict_tree(html)
    problems = list(_problems(page))
    assert not problems, f"{path}: " + "; ".join(problems)
    return page


def _problems(page: ElementTree.Element) -> Any:
    elements = list(page.iter())
    headings = [one for one in elements if one.tag == HTML + "h1"]
    if len(headings) != 1:
        yield f"{len(headings)} h1"
    title = page.findtext(f".//{HTML}title") or ""
    if headings and not title.startswith(words(headings[0])):
        yield f"the title {title!r} does not begin with the h1 {words(headings[0])!r}"
    if page.get("lang") is None:
        yield "no language"
    ids = [one.get("id") for one in elements if one.get("id")]
    if doubled := {one for one in ids if ids.count(one) > 1}:
        yield f"ids used twice: {sorted(doubled)}"
    labelled = {one.get("for") for one in elements if one.tag == HTML + "label"}
    inside = {id(child) for one in elements if one.tag == HTML + "label" for child in one.iter()}
    for one in elements:
        if not isinstance(one.tag, str):
            continue
        if one.get("style") is not None:
            yield f"inline style on {one.tag}"
        if any(name.startswith("on") for name in one.attrib):
            yield f"inline handler on {one.tag}"
        if one.tag == HTML + "script" and not one.get("src"):
            yield "inline script"
        if one.tag in (HTML + "input", HTML + "select", HTML + "textarea") and one.get("type") not in NOT_LABELLED:
            named = one.get("aria-label") or one.get("id") in labelled or id(one) in inside
            if not named:
                yield f"no label for {one.get('name')}"
        posts = one.tag == HTML + "form" and one.get("method", "get").lower() == "post"
        is_kept = one.get("data-kept") is not None  # on the page a device keeps: what it keeps, it sends with a token
        if posts and not is_kept and not any(child.get("name") == "csrf_token" for child in one.iter()):
            yield "a form without a token"
        if one.tag == HTML + "button" and not (words(one) or one.get("aria-label")):
            yield "a button without words"
        if one.tag == HTML + "a" and not (one.get("href") and (words(one) or one.get("aria-label"))):
            yield f"a link without words or target: {ElementTree.tostring(one)[:80]!r}"
        for name in ("aria-describedby", "aria-labelledby", "for"):
            for wanted in (one.get(name) or "").split():
                if wanted not in ids:
                    yield f"{name} names {wanted}, which is not on the page"
