"""Data sheets: added, refused, kept once, handed out, and shown wherever a product is."""

from datetime import date
from io import BytesIO
from typing import Any

import pytest
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.products.models import DataSheet, Product, SheetContent
from labsys.products.pdf_file import LONGEST_SHEET
from tests.planning.furnishing import add_film_process
from tests.support.assessing import approved
from tests.support.lab import SmallLab
from tests.support.pages import hidden, send, source
from tests.support.safety import SHEET, add_sheet
from tests.support.store import product_fields

SCRIPT = b"<< /OpenAction << /S /JavaScript /JS (app.alert(1)) >> >>"
SCRIPTED = SHEET.replace(b"<< /Type /Catalog >>", SCRIPT).replace(b"\n45\n", b"\n%d\n" % (25 + len(SCRIPT)))
TYPED = {"issued_on": "2025-05-01", "supplier": "Made-up Supplies", "language": "English", "revision": "version 2"}


def add_address(lab: SmallLab, kind: str = "fixer") -> str:
    return f"/store/products/{lab.ids[f'product {kind}']}/data-sheets/add"


def file_of(content: bytes, name: str = "sds.pdf") -> dict[str, Any]:
    return {"sheet": (BytesIO(content), name)}


def whole(fields: dict[str, Any]) -> dict[str, Any]:
    """A long form as one piece of memory; the client would leave its temporary file open."""
    parts = {name: FileStorage(*one) if isinstance(one, tuple) else one for name, one in fields.items()}
    boundary, body = encode_multipart(parts)
    return {"data": body, "content_type": f"multipart/form-data; boundary={boundary}"}


def sheets() -> list[DataSheet]:
    return db.session.query(DataSheet).order_by(DataSheet.id).all()


@pytest.mark.parametrize("role", ["technician", "safety adviser"])
def test_a_sheet_is_kept_with_what_is_printed_on_it(lab: SmallLab, client_as, role: str):
    answer = send(client_as(role), add_address(lab), {**TYPED, **file_of(SHEET)})
    assert (answer.status_code, answer.location) == (303, f"/store/products/{lab.ids['product fixer']}")
    (sheet,) = sheets()
    assert (sheet.issued_on, sheet.review_due) == (date(2025, 5, 1), date(2028, 4, 30))
    assert (sheet.supplier, sheet.language, sheet.revision) == ("Made-up Supplies", "English", "version 2")
    assert (sheet.kept.content, sheet.kept.size) == (SHEET, len(SHEET))
    page = source(client_as("member").get(answer.location))
    assert "SDS current" in page
    assert "version 2" in page


@pytest.mark.sqlite_only
def test_a_sheet_is_handed_out_as_a_download_and_never_shown(lab: SmallLab, client_as):
    """Also one with a script inside: it is kept as it is, and nothing of ours opens it."""
    send(client_as("technician"), add_address(lab), {**TYPED, **file_of(SCRIPTED)})
    (sheet,) = sheets()
    answer = client_as("member").get(f"/store/data-sheets/{sheet.id}")
    assert (answer.data, answer.mimetype) == (SCRIPTED, "application/pdf")
    name = f"SDS-{lab.ids['product fixer']}-2025-05-01.pdf"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
    assert answer.headers["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    page = source(client_as("member").get(f"/store/products/{lab.ids['product fixer']}"))
    assert not [tag for tag in ("<iframe", "<embed", "<object") if tag in page]
    assert client_as("member").get("/store/data-sheets/999").status_code == 404


BAD_INPUT = [
    ({}, b"", "Choose the PDF"),
    ({}, b"GIF89a", "The file is not a PDF"),
    ({}, SHEET[:-12], "cut short"),
    ({}, b"%PDF-1.4" + bytes(LONGEST_SHEET), "larger than 10 MB"),
    ({"issued_on": ""}, SHEET, "Enter its date"),
    ({"issued_on": "2026-03-04"}, SHEET, "in the future"),
    ({"issued_on": "2025-02-30"}, SHEET, "write a day of the calendar"),
    ({"review_due": "2025-05-01"}, SHEET, "A review comes after the date"),
    ({"supplier": " "}, SHEET, "Name the supplier"),
    ({"supplier": "x" * 121}, SHEET, "Use at most 120 characters."),
    ({"language": ""}, SHEET, "in which language"),
]


@pytest.mark.sqlite_only
def test_what_cannot_be_kept_is_refused_and_what_was_typed_stays(lab: SmallLab, client_as):
    client = client_as("technician")
    for changes, content, message in BAD_INPUT:
        sent = {**TYPED, **changes, **(file_of(content) if content else {})}
        answer = client.post(add_address(lab), **whole({**hidden(source(client.get(add_address(lab)))), **sent}))
        assert (answer.status_code, message in source(answer)) == (422, True), message
        assert "version 2" in source(answer)
    assert (sheets(), db.session.query(SheetContent).count()) == ([], 0)


@pytest.mark.sqlite_only
def test_a_file_too_long_to_receive_gets_the_friendly_page_and_nothing_is_lost(lab: SmallLab, client_as):
    add_sheet(lab, lab.ids["product fixer"])
    client = client_as("technician")
    carried = hidden(source(client.get(add_address(lab))))
    answer = client.post(add_address(lab), **whole({**carried, **TYPED, **file_of(bytes(LONGEST_SHEET + 2**21))}))
    assert answer.status_code == 413
    assert "That file is too large" in source(answer)
    assert "Everything saved before is as it was" in source(answer)
    assert len(sheets()) == 1


@pytest.mark.sqlite_only
def test_other_pages_still_take_a_megabyte_and_no_more(lab: SmallLab, client_as):
    client = client_as("technician")
    answer = client.post("/store/cylinders", **whole({"x": (BytesIO(bytes(2**20)), "x")}))
    assert answer.status_code == 413
    assert client.post("/store/shelves", **whole({"x": (BytesIO(bytes(2**19)), "x")})).status_code == 400


@pytest.mark.sqlite_only
def test_a_form_sent_twice_keeps_the_sheet_once(lab: SmallLab, client_as):
    client = client_as("technician")
    carried = hidden(source(client.get(add_address(lab))))
    for _ in range(2):
        answer = client.post(add_address(lab), data={**carried, **TYPED, **file_of(SHEET)})
        assert answer.location == f"/store/products/{lab.ids['product fixer']}"
    assert len(sheets()) == 1


def test_the_bytes_are_kept_once_however_many_products_share_the_sheet(lab: SmallLab, client_as):
    for kind in ("fixer", "stop"):
        add_sheet(lab, lab.ids[f"product {kind}"])
    assert (len(sheets()), db.session.query(SheetContent).count()) == (2, 1)
    again = send(client_as("technician"), add_address(lab), {**TYPED, **file_of(SHEET)})
    assert "This very file is kept for the product already" in source(again)


@pytest.mark.sqlite_only
def test_bytes_that_were_altered_are_not_handed_out(lab: SmallLab, client_as):
    sheet = add_sheet(lab, lab.ids["product fixer"])
    db.session.query(SheetContent).update({"content": SHEET + b"more"})
    db.session.commit()
    answer = client_as("member").get(f"/store/data-sheets/{sheet.id}", follow_redirects=True)
    assert "no longer the one that was added" in source(answer)


# Registering a product and its SDS in one go


def test_a_product_is_registered_with_its_sds_in_one_go(lab: SmallLab, client_as):
    answer = send(client_as("technician"), "/store/products/add", {**product_fields(), **file_of(SHEET)})
    assert answer.status_code == 303
    (sheet,) = sheets()
    added = db.session.get_one(Product, sheet.product_id)
    assert (added.name, sheet.issued_on, sheet.supplier) == (
        "Citric stop concentrate",
        date(2025, 11, 30),
        "Made-up Supplies",
    )


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "content", "message"),
    [
        ({}, b"not a sheet", "The file is not a PDF"),
        ({"sds_date": ""}, SHEET, "Enter the date of the SDS you chose"),
        ({"ingredients-0-cas": "64-19-8"}, SHEET, "is not a CAS number"),
    ],
)
def test_neither_product_nor_sds_is_kept_where_one_of_them_cannot_be(
    lab: SmallLab, client_as, changes: dict[str, str], content: bytes, message: str
):
    before = db.session.query(Product).count()
    answer = send(client_as("technician"), "/store/products/add", {**product_fields(), **changes, **file_of(content)})
    assert (answer.status_code, message in source(answer)) == (422, True)
    assert "choose it again" in source(answer)
    assert (db.session.query(Product).count(), sheets()) == (before, [])


# Shown


@pytest.mark.sqlite_only
def test_how_the_sds_stands_is_said_on_the_product_the_list_and_the_store(lab: SmallLab, client_as):
    client = client_as("member")
    pages = (f"/store/products/{lab.ids['product fixer']}", "/store/products", "/store")
    assert all("no SDS" in source(client.get(page)) for page in pages)
    add_sheet(lab, lab.ids["product fixer"], review_due=date(2026, 3, 1))
    assert all("SDS review overdue" in source(client.get(page)) for page in pages)
    add_sheet(lab, lab.ids["product fixer"], content=SHEET + b"\n", issued_on=date(2026, 1, 1))
    assert all("entries of an older SDS" in source(client.get(page)) for page in pages)
    assert "were read from the SDS of 1 May 2025; one of 1 Jan 2026 is here" in source(client.get(pages[0]))


@pytest.mark.sqlite_only
def test_what_is_next_leads_from_the_sheet_to_the_bath(lab: SmallLab, client_as):
    product = lab.add_product(SolutionKind.FIXER, confirmed=False, name="Slow fixer concentrate")
    page = source(client_as("technician").get(f"/store/products/{product.id}"))
    assert add_address(lab).replace(str(lab.ids["product fixer"]), str(product.id)) in page
    assert page.count(">to do<") == 5
    assert "When the steps above are done" in page
    ready = lab.ids["product stop"]
    lab.add_bottle(SolutionKind.STOP)
    add_sheet(lab, ready)
    page = source(client_as("technician").get(f"/store/products/{ready}"))
    assert (page.count(">done<"), f"/baths/mix?product_id={ready}" in page) == (3, True)
    approved(lab, add_film_process(lab))
    assert source(client_as("technician").get(f"/store/products/{ready}")).count(">done<") == 4
