"""Who was in contact with a substance, as a document for the safety adviser."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from flask import url_for
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, gap, masthead, ruled_table, words
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.people.permissions import Permission
from labsys.products import queries as products
from labsys.register.contact import ESTIMATE, ContactAsked, people_in_contact
from labsys.register.forms import ContactForm

CLOSING = f"{ESTIMATE} For the safety adviser: keep it where nobody else reads it."


@dataclass(frozen=True, slots=True)
class ContactListData:
    """All that the list prints; `called` is the substance or the product.

    A row tells of one kind of thing one person did: who, what, how often, first and last when.
    """

    issue: Issue
    called: str
    since: str
    rows: tuple[tuple[str, ...], ...] = ()


def collect(session: DbSession, asked: ContactAsked, occasion: Occasion) -> ContactListData:
    """Read who was in contact, all of them. Raises NotFound."""
    product = products.product_or_raise(session, asked.product_id) if asked.product_id else None
    return ContactListData(
        issue=occasion.issue(f"/register/contact?{urlencode(asked.written)}", scan_code="the live list"),
        called=f"{product.name}, {product.supplier}" if product else asked.cas,
        since=f"{asked.since:%-d %B %Y}",
        rows=tuple(
            (
                person.name if not number else "",
                contact.kind,
                str(contact.times),
                occasion.day(contact.first_at),
                occasion.day(contact.last_at),
            )
            for person in people_in_contact(session, asked.sought(zone=occasion.zone))
            for number, contact in enumerate(person.contacts)
        ),
    )


def draw(data: ContactListData) -> bytes:
    """Return the list as a PDF; equal data gives equal bytes."""
    return bind(
        _story(data, text_width(data.issue.paper)), title="Contact with a substance", issue=data.issue, closing=CLOSING
    )


def _story(data: ContactListData, width: float) -> Iterator[Flowable]:
    lead = f"{data.called}, since {data.since}."
    yield masthead(title="Contact with a substance", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield blocks.notice(ESTIMATE, width=width)
    yield gap(3)
    if not data.rows:
        yield words("Nobody, as far as it was recorded.")
        return
    yield from ruled_table(
        (
            Column("Person", 4),
            Column("Did", 4),
            Column("Times", 1.4, figures=True),
            Column("First", 2.6),
            Column("Last", 2.6),
        ),
        data.rows,
        width=width,
    )


def _form(session: DbSession, _: Occasion, address: Address | None) -> ContactForm:
    form = form_from(ContactForm, address)
    form.offer([(product.id, f"{product.name}, {product.supplier}") for product in products.products(session)])
    return form


CONTACT_LIST = Document(
    kind="contact list",
    path="contact-list",
    may_see=Permission.SEE_CONTACT,
    may_issue=Permission.SEE_CONTACT,
    form=_form,
    read=ContactForm.asked,
    written=lambda asked, data: asked.written,
    collect=collect,
    title=lambda data: f"Contact with {data.called}, since {data.since}"[:200],
    draw=draw,
    has_page=False,
    back=lambda form, asked: url_for("register.contact"),
    incomplete="The list was not issued: say again of what, and since when.",
)
