"""Decisions about documents: what cannot be issued, whether kept bytes still fit, what a file is called."""

import hashlib
import re

from labsys.records.errors import Refused


class DocumentRefused(Refused):
    """The document cannot be issued so; the message says why and what to do."""


class DoesNotFit(DocumentRefused):
    """There is more to say than the paper holds at the smallest type that reads."""


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
