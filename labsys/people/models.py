"""Tables of people: accounts, roles, links that let somebody in once, and attempts to sign in."""

from datetime import datetime
from enum import StrEnum
from functools import reduce
from operator import add
from typing import TYPE_CHECKING, ClassVar

from sqlalchemy import ColumnElement, ForeignKey, Index, String, UniqueConstraint, case, exists
from sqlalchemy.orm import Mapped, aliased, column_property, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime


class Role(StrEnum):
    MEMBER = "member"
    INSTRUCTOR = "instructor"
    TECHNICIAN = "technician"
    SAFETY_ADVISER = "safety adviser"
    MANAGER = "manager"


class Person(Model):
    """Somebody the lab knows.

    Without a password they were invited but have not come yet; once left, nobody signs in as them.
    """

    __tablename__ = "people"
    __table_args__ = (UniqueConstraint("email"),)

    NAME_LENGTH = 120
    EMAIL_LENGTH = 254

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    email: Mapped[str] = mapped_column(String(EMAIL_LENGTH), comment="lower case")
    password_hash: Mapped[str | None] = mapped_column(String(200))
    session_version: Mapped[int] = mapped_column(default=1, comment="raised to end every open session")
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    role_rows: Mapped[list["PersonRole"]] = relationship(
        lazy="selectin", cascade="all, delete-orphan", order_by="PersonRole.id"
    )

    if TYPE_CHECKING:  # made after PersonRole
        held_by_others: Mapped[str | None]

    @property
    def roles(self) -> frozenset[Role]:
        return frozenset(row.role for row in self.role_rows)

    @property
    def roles_of_others(self) -> frozenset[Role]:
        """The roles that somebody else holds who is here: came in by choosing a password, and has not left."""
        return frozenset(Role(role) for role in (self.held_by_others or "").split(";") if role)

    # Permissions, as text, beyond which the person may not go for now: at a shared tablet. Not kept in the database.
    confined_to: ClassVar[frozenset[str] | None] = None

    # What Flask-Login asks of a user.
    is_authenticated = True
    is_anonymous = False

    @property
    def is_active(self) -> bool:
        return self.left_at is None

    def get_id(self) -> str:
        return f"{self.id}:{self.session_version}"


class PersonRole(Model):
    """One role of a person; in a small lab one person holds several."""

    __tablename__ = "person_roles"
    __table_args__ = (UniqueConstraint("person_id", "role"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    role: Mapped[Role] = mapped_column()


def _if_held_by_others(role: Role) -> ColumnElement[str]:
    other = aliased(Person)
    holds = exists().where(
        PersonRole.person_id == other.id,
        PersonRole.role == role,
        other.id != Person.id,
        other.left_at.is_(None),
        other.password_hash.is_not(None),
    )
    return case((holds, f"{role};"), else_="")


# Left for when it is asked for; whoever is signed in is read with it, since each page asks what they may.
Person.held_by_others = column_property(reduce(add, map(_if_held_by_others, Role)), deferred=True)


class LinkPurpose(StrEnum):
    INVITATION = "invitation"
    RESET = "reset"


class EntryLink(Model):
    """A link that lets one person choose a password, once, for a while. Only a digest of its token is kept."""

    __tablename__ = "entry_links"
    __table_args__ = (UniqueConstraint("token_digest"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    purpose: Mapped[LinkPurpose] = mapped_column()
    token_digest: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    expires_at: Mapped[datetime] = mapped_column(UtcDateTime)
    used_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship()


class SignInAttempt(Model):
    """One attempt to sign in, counted in the database so that several processes share the count."""

    __tablename__ = "sign_in_attempts"
    __table_args__ = (Index(None, "email", "at"), Index(None, "address", "at"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    email: Mapped[str] = mapped_column(String(Person.EMAIL_LENGTH))
    address: Mapped[str] = mapped_column(String(64))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    succeeded: Mapped[bool]
