"""Whether a file is a PDF, before it is kept: by its header, its end and its table of objects."""

from io import BytesIO

import pytest
from reportlab.pdfgen.canvas import Canvas

from labsys.products.pdf_file import LONGEST_SHEET, check_pdf
from labsys.products.rules import SheetRefused
from tests.support.safety import SHEET


def drawn() -> bytes:
    buffer = BytesIO()
    page = Canvas(buffer)
    page.drawString(100, 700, "Safety data sheet")
    page.save()
    return buffer.getvalue()


@pytest.mark.parametrize("content", [SHEET, drawn(), SHEET.replace(b"%%EOF\n", b"%%EOF\r\n\r\n"), SHEET + bytes(40)])
def test_a_whole_pdf_is_taken(content: bytes):
    check_pdf(content)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"PK\x03\x04" + SHEET, "not a PDF"),
        (b"<html><script>alert(1)</script></html>", "not a PDF"),
        (b"%PDF-1.4", "cut short"),
        (SHEET[:-10], "cut short"),
        (drawn()[:-200], "cut short"),
        (SHEET.replace(b"startxref\n45", b"startxref\n7"), "damaged"),
        (SHEET.replace(b"startxref\n45", b"startxref\n999999999"), "damaged"),
        (b"%PDF-1.4" + bytes(LONGEST_SHEET), "larger than 10 MB"),
    ],
)
def test_anything_else_is_refused_with_what_to_do(content: bytes, says: str):
    with pytest.raises(SheetRefused, match=says) as refused:
        check_pdf(content)
    assert refused.value.field == "sheet"
