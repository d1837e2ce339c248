"""Writing assessments in a small lab, through the pages and without them."""

from datetime import date

import html5lib
from sqlalchemy import func, select

from labsys.risk import approving, service
from labsys.risk.models import Assessment, Level, Residual, Route, Under18, Who
from labsys.risk.rules import Choice, Content
from tests.support.client import HTML, hidden_field

REVIEW = date(2027, 3, 1)
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


def token(client):
    return hidden_field(text(client.get("/assessments/add")), "csrf_token")


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


def content(**changes):
    """All that has to be written before approval."""
    told = {
        "task": "Film in a daylight tank.",
        "who": frozenset({Who.MEMBERS}),
        "how_many": 4,
        "routes": frozenset({Route.SKIN}),
        "frequency": "weekly",
        "duration": "20 min",
        "existing_controls": "Ventilation.",
        "glove_material": "nitrile",
        "has_surveillance": True,
        "first_aid": "Rinse. 20 minutes.",
        "residual": Residual.LOW,
        "residual_reason": "Hands stay out of it.",
        "under_18": Under18.YES,
        "review_on": REVIEW,
        "controls": ((Level.PRACTICE, "Lids on tanks."),),
    }
    return Content(**{**told, **changes})


def begin(lab, process, *, role="technician"):
    return service.assess_process(lab.session, actor=lab.person(role), process_id=process.id, now=lab.tick())


def begin_products(lab, *kinds, role="technician", title=""):
    return service.assess_products(
        lab.session,
        actor=lab.person(role),
        product_ids=[lab.ids[f"product {kind}"] for kind in kinds],
        title=title,
        now=lab.tick(),
    )


def write(lab, assessment, *, role="technician", **changes):
    return service.change_version(
        lab.session, actor=lab.person(role), assessment_id=assessment.id, content=content(**changes), now=lab.tick()
    )


def choice(row, **changes):
    told = {"substance_id": row.id, "amount": row.amount, "spread": row.spread}
    return Choice(**{**told, **changes})


def submit(lab, assessment, *, role="technician"):
    return approving.submit(lab.session, actor=lab.person(role), assessment_id=assessment.id, now=lab.tick())


def approve(lab, assessment, *, role="safety adviser", **changes):
    return approving.approve(
        lab.session, actor=lab.person(role), assessment_id=assessment.id, now=lab.tick(), **changes
    )


def approved(lab, process, **changes) -> Assessment:
    """An approved assessment of a process."""
    assessment = begin(lab, process)
    write(lab, assessment, **changes)
    submit(lab, assessment)
    approve(lab, assessment)
    return assessment
