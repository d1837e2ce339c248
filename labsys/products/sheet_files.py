"""How the bytes of an SDS come in over HTTP and go out again: never larger than bearable, never rendered here."""

import hashlib
import logging

from flask import Response

from labsys.products.models import SheetContent

# The bytes are a supplier's: no script, no request, no form, and never shown in a page of ours.
SHEET_POLICY = "sandbox; default-src 'none'"
ALTERED = "The file kept here is no longer the one that was added, so it is not handed out. Add it anew."
TAKES_A_SHEET = ("products.add_data_sheet", "products.add", "brought_in.declare")


def download(kept: SheetContent, *, name: str) -> Response | None:
    """Hand out an SDS as a download, or None where its bytes are no longer those that were added."""
    if hashlib.sha256(kept.content).hexdigest() != kept.digest:
        logging.getLogger("labsys.products").error("the SDS %s was altered", kept.digest)
        return None
    answer = Response(kept.content, mimetype="application/pdf")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    answer.headers["Content-Security-Policy"] = SHEET_POLICY
    return answer
