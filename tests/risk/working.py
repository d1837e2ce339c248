"""Writing assessments through the pages of a small lab."""

import html5lib
from sqlalchemy import func, select

from tests.support.assessing import REVIEW
from tests.support.client import HTML, hidden_field

DONE = {
    "who": ["members", "students"],
    "how_many": "6",
    "routes": ["skin", "eyes"],
    "frequency": "twice a week",
    "existing_controls": "Tongs at each tray.\nVentilation on.",
    "controls_practice": "Tongs for every print.\nSplashes wiped up at once.",
    "glove_material": "nitrile, 0.2 mm",
    "glove_minutes": "60",
    "glove_source": "as the glove maker's data says",
    "air_changes": "6",
    "air_changes_source": "extraction test of February",
    "has_surveillance": "y",
    "residual": "low",
    "residual_reason": "Diluted, and hands stay out of it.",
    "under_18": "only with somebody named",
    "under_18_with": "an instructor in the room",
    "review_on": REVIEW.isoformat(),
}


def text(response):
    return response.get_data(as_text=True)


def count(lab, model):
    return lab.session.execute(select(func.count()).select_from(model)).scalar_one()


def press(client, path, *, on, key="a-key-of-its-own", **fields):
    """Press a button that posts to a path, from a page that carries a token."""
    sent = {"csrf_token": hidden_field(text(client.get(on)), "csrf_token"), "submission_key": key, **fields}
    return client.post(path, data=sent)


def as_it_stands(page):
    """What the large form of a page would send untouched."""
    tree = html5lib.parse(page, treebuilder="etree")
    forms = [one for one in tree.iter(HTML + "form") if (one.get("class") or "") == "form"]
    sent = {}
    for one in forms[0].iter():
        name = one.get("name")
        if not name:
            continue
        if one.tag == HTML + "textarea":
            sent[name] = one.text or ""
        elif one.tag == HTML + "select":
            chosen = [o for o in one.iter(HTML + "option") if o.get("selected") is not None]
            sent[name] = (chosen or list(one.iter(HTML + "option")))[0].get("value")
        elif one.tag == HTML + "input" and one.get("type") in ("checkbox", "radio"):
            if one.get("checked") is not None:
                sent.setdefault(name, []).append(one.get("value"))
        elif one.tag == HTML + "input":
            sent[name] = one.get("value", "")
    return sent


def fill_in(client, path, **fields):
    """Open a form, change some of it, and send all of it."""
    return client.post(path, data={**as_it_stands(text(client.get(path))), **fields})
