"""Decisions about issued documents: who may see which kind, what its file is called, whether its bytes still fit."""

import hashlib
import re
from enum import StrEnum

from labsys.people.permissions import Permission
from labsys.records.errors import Refused


class DocumentKind(StrEnum):
    """The kinds of document; the value is how people call it."""

    BATH_LABEL = "bath label"
    SESSION_SHEET = "session sheet"
    WASTE_LOG = "waste log"
    ASSESSMENT = "assessment"
    GUEST_LABEL = "guest bottle label"
    REGISTER = "chemical register"
    FIRST_AID = "first-aid card"
    LABEL_SHEET = "label sheet"
    CONTACT_LIST = "contact list"


MAY_SEE = {
    DocumentKind.BATH_LABEL: Permission.SEE_LAB,
    DocumentKind.SESSION_SHEET: Permission.BOOK_FOR_OTHERS,  # it names the inductions somebody lacks
    DocumentKind.WASTE_LOG: Permission.SEE_WASTE_LOG,
    DocumentKind.ASSESSMENT: Permission.SEE_LAB,
    DocumentKind.GUEST_LABEL: Permission.SEE_LAB,
    DocumentKind.REGISTER: Permission.SEE_LAB,
    DocumentKind.FIRST_AID: Permission.SEE_LAB,
    DocumentKind.LABEL_SHEET: Permission.SEE_LAB,
    DocumentKind.CONTACT_LIST: Permission.SEE_CONTACT,
}
OWN_MAY_BE_SEEN = frozenset({DocumentKind.SESSION_SHEET})


def needed_to_see(kind: DocumentKind, *, is_own: bool) -> Permission:
    """What somebody needs to see an issued document: less for some kinds of their own."""
    return Permission.SEE_LAB if is_own and kind in OWN_MAY_BE_SEEN else MAY_SEE[kind]


class DocumentRefused(Refused):
    """The document cannot be issued so; the message says why and what to do."""


class DocumentAltered(Exception):
    """The bytes of an issued document are not those that were issued."""

    def __init__(self, document_id: int):
        super().__init__(f"Document {document_id} is not what was issued.")
        self.document_id = document_id


def check_unaltered(*, document_id: int, content: bytes, digest: str, on_record: str | None) -> None:
    """Raise DocumentAltered unless the bytes fit the digest kept with them and the one on the record.

    `on_record` is None where the entry's content was erased, as the law may ask.
    """
    if hashlib.sha256(content).hexdigest() != digest or on_record not in (None, digest):
        raise DocumentAltered(document_id)


def file_name(*, title: str, number: int) -> str:
    """Return what a browser shall call the file, in letters that every system takes.

    >>> file_name(title="Waste log, 1 March 2026 to 31 March 2026", number=7)
    'waste-log-1-march-2026-to-31-march-2026-7.pdf'
    """
    plain = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    return f"{plain}-{number}.pdf"
