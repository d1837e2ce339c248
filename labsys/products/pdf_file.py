"""Whether bytes are a PDF file, by its header, its end and its table of objects. Nothing in it is opened or run."""

import re

from labsys.products.rules import SheetRefused

LONGEST_SHEET = 10 * 1024 * 1024  # [bytes] suppliers' sheets are some hundred kB; scans of old ones a few MB
_HEADER = re.compile(rb"%PDF-[12]\.[0-9]")
_END = re.compile(rb"startxref\s+([0-9]{1,10})\s+%%EOF\s*\Z")
_LOOK_BACK = 2048  # [bytes] the end of a file, with room for a signature's padding
_TABLE = re.compile(rb"\s*(?:xref\b|[0-9]+\s+[0-9]+\s+obj\b)")


def check_pdf(content: bytes) -> None:
    """Raise SheetRefused unless the bytes are a whole PDF file of bearable size.

    Source: ISO 32000-1, 7.5 (header, trailer, cross-reference table or stream), from memory.
    """
    if not content:
        raise SheetRefused("The file is empty. Choose the PDF of the SDS.", field="sheet")
    if len(content) > LONGEST_SHEET:
        raise SheetRefused(
            f"The file is larger than {LONGEST_SHEET // 1024**2} MB. Ask the supplier for the text version, or scan it "
            "at 150 dots per inch.",
            field="sheet",
        )
    if _HEADER.match(content) is None:
        raise SheetRefused("The file is not a PDF. Save the SDS as PDF and choose that file.", field="sheet")
    end = _END.search(content[-_LOOK_BACK:].rstrip(b"\0"))
    if end is None:
        raise SheetRefused("The PDF is cut short: its end is missing. Download it again.", field="sheet")
    table = int(end[1])
    if table >= len(content) or _TABLE.match(content, table) is None:
        raise SheetRefused("The PDF is damaged: its table of objects is missing. Download it again.", field="sheet")
