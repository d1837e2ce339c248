"""What a document is: one description of each kind, by which one act and one pair of pages serve them all."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from flask import url_for
from werkzeug.datastructures import MultiDict

from labsys.database import DbSession
from labsys.documents.occasion import Occasion
from labsys.forms import LabForm
from labsys.people.permissions import Permission

P = TypeVar("P")  # what a document of this kind is asked for: a frozen dataclass
D = TypeVar("D")  # all that it says, and nothing else is drawn
F = TypeVar("F", bound=LabForm)
Address = MultiDict[str, str]


def form_from(kind: type[F], address: Address | None) -> F:
    """Return a form as it was sent by POST or, where an address is given, filled in from that."""
    return kind() if address is None else kind(formdata=address, meta={"csrf": False})


def _nothing_to_fill_in(_: DbSession, __: Occasion, address: Address | None) -> LabForm:
    return form_from(LabForm, None if address is None else MultiDict())


@dataclass(frozen=True, slots=True)
class WholeLab:
    """Asks for a document of the lab as it stands, and of nothing else."""


@dataclass(frozen=True, kw_only=True)
class Document(Generic[P, D]):
    """One kind of document.

    Who may have it: `may_see` is for its page and for issued ones, `may_issue` for issuing it.
    What it is: `read` takes what is asked for from a valid form and the numbers in the address, `written` gives it as
    it is kept on the record, `collect` reads all that it says, `draw` makes the PDF: equal data, equal bytes.
    How it is shown: its template shows the same data, and is handed `shows` besides. Without a page of its own that of
    another room asks for it, and `back` leads there, as it does where there is nothing to show.
    """

    kind: str  # how people call it; it stands on the record
    path: str  # of its page, below /documents/
    may_see: Permission
    may_issue: Permission
    own_may_be_seen: bool = False  # by whoever sees the lab
    form: Callable[[DbSession, Occasion, Address | None], LabForm] = _nothing_to_fill_in
    read: Callable[..., P]
    written: Callable[[P, D], Mapping[str, Any]]
    collect: Callable[[DbSession, P, Occasion], D]
    title: Callable[[D], str]
    draw: Callable[[D], bytes]
    check: Callable[[DbSession, P], None] = lambda session, asked: None  # raises where it is shown but not issued
    labels: Callable[[D], Collection[str]] = lambda data: ()  # the codes whose labels it is: they wait no longer
    has_page: bool = True
    shows: Mapping[str, Any] = field(default_factory=dict)
    page: Callable[[DbSession, Any, Occasion], Mapping[str, Any]] | None = None  # of one that is chosen on its page
    back: Callable[[Any, Any], str] = lambda form, asked: url_for("documents.index")
    incomplete: str = ""  # what to say there of a form that was not filled in

    @property
    def name(self) -> str:
        """What its page is called in links, and its template."""
        return self.path.partition("/")[0].replace("-", "_")

    @property
    def template(self) -> str:
        return f"documents/{self.name}.html"

    def needed_to_see(self, *, is_own: bool) -> Permission:
        """What somebody needs to see an issued one: less for some kinds of their own."""
        return Permission.SEE_LAB if is_own and self.own_may_be_seen else self.may_see
