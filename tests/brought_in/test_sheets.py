"""The SDS that comes with a declaration, and what is restricted."""

from io import BytesIO

import pytest

from labsys.brought_in.models import Declaration
from labsys.brought_in.rules import DeclarationRefused, parse_ingredients
from labsys.brought_in.service import Decision
from tests.brought_in.test_views import FORM
from tests.support.guests import YES, decide, declare
from tests.support.pages import send, source
from tests.support.safety import SHEET


def test_an_sds_comes_with_a_declaration_and_goes_out_as_a_download(lab, client_as):
    client = client_as("member")
    answer = send(client, "/brought-in/declare", **FORM, sds=(BytesIO(SHEET), "toner.pdf"))
    assert "Download the SDS" in source(client.get(answer.location))
    with client.get(f"{answer.location}/sds") as sheet:
        assert sheet.data == SHEET
        assert sheet.headers["Content-Disposition"].startswith("attachment")
        assert "sandbox" in sheet.headers["Content-Security-Policy"]
    assert client_as("instructor").get(f"{answer.location}/sds").status_code == 403


@pytest.mark.sqlite_only
def test_what_is_not_a_pdf_is_refused_and_nothing_is_kept(lab, client_as):
    answer = send(client_as("member"), "/brought-in/declare", **FORM, sds=(BytesIO(b"<html>"), "toner.pdf"))
    assert (answer.status_code, "The file is not a PDF" in source(answer)) == (422, True)
    assert lab.session.query(Declaration).count() == 0


@pytest.mark.sqlite_only
def test_a_declaration_without_a_file_has_none_to_hand_out(lab, client_as):
    made = declare(lab, sds=None)
    assert client_as("member").get(f"/brought-in/{made.id}/sds").status_code == 404


@pytest.mark.sqlite_only
def test_something_restricted_is_named_and_comes_in_with_reasons_only(lab, client_as):
    """Chromium(VI) is on labsys's own list of restricted things, with the source of each reason beside it."""
    made = declare(lab, name="Sensitiser for gum prints", ingredients=parse_ingredients("a bichromate, 7778-50-9"))
    page = source(client_as("technician").get(f"/brought-in/{made.id}/decide"))
    assert "restricted" in page
    assert "Instead:" in page
    with pytest.raises(DeclarationRefused, match="Write why it may come in"):
        decide(lab, made, YES)
    assert decide(lab, made, Decision(accepts=True, sds_shown=True, reasons="A sealed gram, weighed outside")).code
