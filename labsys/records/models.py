"""Tables of the lab itself, the record of who did what, codes to scan, submissions and issued documents."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from labsys.database import BigId, Model, UtcDateTime


class PaperSize(StrEnum):
    A4 = "A4"
    LETTER = "Letter"


class Admits(StrEnum):
    """Whether people under 18 come to the lab."""

    NOT_STATED = "not stated"
    YES = "yes"
    NO = "no"


class Safeguarding(StrEnum):
    """What keeps somebody under 18 from being alone with one adult whom nobody sees; there is no setting without."""

    EITHER = "two adults, or a room looked into"
    TWO_ADULTS = "two adults"
    LOOKED_INTO = "a room that can be looked into"


class Lab(Model):
    """The one lab this instance belongs to."""

    __tablename__ = "lab"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    NAME_LENGTH = 120
    TEXT_LENGTH = 300

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    address: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="")
    code_prefix: Mapped[str] = mapped_column(String(4))
    timezone: Mapped[str] = mapped_column(String(64))
    nation: Mapped[str] = mapped_column(String(40))
    paper_size: Mapped[PaperSize] = mapped_column()
    emergency: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="who to call; printed on labels")
    first_aider: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="who, and where to find them")
    eyewash: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="where the nearest is")
    spill_kit: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="where it is")
    hospital: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="with an emergency department")
    telephone: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="where it is, and its number")
    out_of_hours: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="whom to call then")
    drains_to: Mapped[str] = mapped_column(
        String(TEXT_LENGTH), default="", comment="where the sinks drain to; empty: not known"
    )
    undertaker: Mapped[str] = mapped_column(
        String(TEXT_LENGTH), default="", comment="sewerage undertaker, with its number"
    )
    carry_over_milli: Mapped[int] = mapped_column(
        default=10, comment="share of what a container holds that is trivial when poured in wrongly, × 1000"
    )
    free_after_minutes: Mapped[int | None] = mapped_column(
        comment="a place nobody came to is given free then; empty: never"
    )
    late_cancel_minutes: Mapped[int | None] = mapped_column(
        comment="cancelled later than so long before is late; empty: never"
    )
    offer_minutes: Mapped[int] = mapped_column(
        default=240, comment="an offer from the waiting list stands so long, and never beyond the start"
    )
    check_grace_days: Mapped[int | None] = mapped_column(
        comment="an overdue check of equipment closes what it serves so long after; empty: at once"
    )
    admits_under_18: Mapped[Admits] = mapped_column(default=Admits.NOT_STATED)
    safeguarding: Mapped[Safeguarding] = mapped_column(default=Safeguarding.EITHER)
    is_demo: Mapped[bool] = mapped_column(default=False)


class RecordEntry(Model):
    """One act on the record.

    `digest` covers salt and payload; `hash` covers number, instant, digest and the previous hash. Payload and salt can
    be erased when the law asks, and the chain still verifies. No foreign keys: the record outlives what it speaks of.
    """

    __tablename__ = "record_entries"

    number: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=False)
    at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    salt: Mapped[str | None] = mapped_column(String(32))
    payload: Mapped[str | None] = mapped_column(Text, comment="canonical JSON: act, about, by, facts")
    digest: Mapped[str] = mapped_column(String(64))
    previous_hash: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64))


class RecordHead(Model):
    """Number and hash of the newest entry; one row, locked last in every act."""

    __tablename__ = "record_head"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(BigId)
    hash: Mapped[str] = mapped_column(String(64))


class CodeKind(StrEnum):
    """What a code stands on; the value is the letter in the code."""

    BOTTLE = "B"
    BATH = "T"
    LINE = "L"
    CONTAINER = "W"
    DOCUMENT = "D"
    CARD = "P"
    ASSESSMENT = "A"
    GUEST = "G"
    UNLABELLED = "U"
    EQUIPMENT = "E"
    STATION = "S"


class Code(Model):
    """Everything that can be scanned: one row a code."""

    __tablename__ = "codes"
    __table_args__ = (UniqueConstraint("kind", "row_id"),)

    code: Mapped[str] = mapped_column(String(20), primary_key=True)
    kind: Mapped[CodeKind] = mapped_column()
    row_id: Mapped[int] = mapped_column(BigId)


class WaitingLabel(Model):
    """What stands somewhere without its label: it waits to be printed, on a sheet with others or alone."""

    __tablename__ = "waiting_labels"
    __table_args__ = (UniqueConstraint("code"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    code: Mapped[str] = mapped_column(ForeignKey("codes.code"))
    waits_since: Mapped[datetime] = mapped_column(UtcDateTime)


class CodeCounter(Model):
    """The last number given to each kind of code."""

    __tablename__ = "code_counters"

    kind: Mapped[CodeKind] = mapped_column(primary_key=True)
    last: Mapped[int] = mapped_column(BigId)


class Submission(Model):
    """A form that was acted on. The same key never acts twice."""

    __tablename__ = "submissions"

    key: Mapped[str] = mapped_column(String(36), primary_key=True)
    act: Mapped[str] = mapped_column(String(60))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    outcome_kind: Mapped[str] = mapped_column(String(40))
    outcome_id: Mapped[int] = mapped_column(BigId)


class IssuedDocument(Model):
    """A document as it was issued: what it was made from, by whom, and its very bytes."""

    __tablename__ = "issued_documents"

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[str] = mapped_column(String(40))
    title: Mapped[str] = mapped_column(String(200))
    parameters: Mapped[str] = mapped_column(Text, comment="canonical JSON")
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    issued_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    head_number: Mapped[int] = mapped_column(BigId, comment="head of the record printed on the document")
    head_hash: Mapped[str] = mapped_column(String(64))
    digest: Mapped[str] = mapped_column(String(64), comment="SHA-256 of content")
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
