"""Tables of the assessments: what is assessed, its versions, the substances and controls of each, and actions."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.hazards.banding import Amount, HazardGroup, Spread
from labsys.ledger.models import Unit
from labsys.people.models import Person
from labsys.processes.models import Process
from labsys.products.models import Product


class SubjectKind(StrEnum):
    """What an assessment is about."""

    PROCESS = "process"
    PRODUCTS = "products as supplied"
    ROOM_HAZARD = "hazard of the room"


class State(StrEnum):
    """Where a version stands between writing and approval."""

    DRAFT = "draft"
    WAITING = "waiting for approval"
    SENT_BACK = "sent back"
    APPROVED = "approved"
    SUPERSEDED = "superseded"


class Level(StrEnum):
    """The hierarchy of control: what comes first is tried first."""

    ELIMINATE = "do without it"
    SUBSTITUTE = "use something milder"
    ENGINEERING = "engineering"
    PRACTICE = "working practice"
    PROTECTION = "protective equipment"


class Who(StrEnum):
    """Who may be harmed."""

    STAFF = "staff"
    MEMBERS = "members"
    STUDENTS = "students"
    VISITORS = "visitors"


class Route(StrEnum):
    """How a substance reaches a person."""

    SKIN = "skin"
    EYES = "eyes"
    BREATHED = "breathed in"
    SWALLOWED = "swallowed"


class Residual(StrEnum):
    """The risk that is left with every control in place."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class Under18(StrEnum):
    """Whether the task as assessed is open to people under 18."""

    YES = "yes"
    WITH = "only with somebody named"
    NO = "no"


class Assessment(Model):
    """One subject that is assessed. What was found stands in its numbered versions."""

    __tablename__ = "risk_assessments"
    __table_args__ = (
        UniqueConstraint("code"),
        CheckConstraint("(process_id IS NOT NULL) = (kind = 'process')", name="process"),
        CheckConstraint("(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name="withdrawn"),
    )

    TITLE_LENGTH = 160
    REASON_LENGTH = 400

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    code: Mapped[str] = mapped_column(String(20))
    kind: Mapped[SubjectKind]
    title: Mapped[str] = mapped_column(String(TITLE_LENGTH))
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"), index=True)
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)
    added_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    withdrawn_because: Mapped[str] = mapped_column(String(REASON_LENGTH), default="")
    process: Mapped[Process | None] = relationship()
    withdrawn_by: Mapped[Person | None] = relationship(foreign_keys=withdrawn_by_id)
    versions: Mapped[list["Version"]] = relationship(order_by="Version.number", back_populates="assessment")
    products: Mapped[list["SubjectProduct"]] = relationship(order_by="SubjectProduct.id")
    actions: Mapped[list["Action"]] = relationship(order_by="Action.id", back_populates="assessment")

    @property
    def newest(self) -> "Version":
        return self.versions[-1]

    @property
    def approved(self) -> "Version | None":
        """The version that holds now."""
        return next((version for version in reversed(self.versions) if version.state is State.APPROVED), None)


class SubjectProduct(Model):
    """A product that an assessment of products as supplied is about."""

    __tablename__ = "risk_subject_products"
    __table_args__ = (UniqueConstraint("assessment_id", "product_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessments.id"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    product: Mapped[Product] = relationship()


class Version(Model):
    """What was found and decided at one time. Once approved it is never changed; the next version supersedes it.

    `edition` is raised by every change, so that what is approved is what was read.
    """

    __tablename__ = "risk_versions"
    __table_args__ = (
        UniqueConstraint("assessment_id", "number"),
        CheckConstraint("number >= 1", name="number"),
        CheckConstraint("how_many > 0", name="how_many"),
        CheckConstraint("air_changes_tenths >= 0", name="air_changes"),
        CheckConstraint("glove_minutes > 0", name="glove_minutes"),
        CheckConstraint("(approved_at IS NOT NULL) = (state IN ('approved', 'superseded'))", name="approved"),
    )

    BASIS_LENGTH = 300
    LINE_LENGTH = 200
    TEXT_LENGTH = 4_000
    NAME_LENGTH = Person.NAME_LENGTH

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessments.id"))
    number: Mapped[int]
    edition: Mapped[int] = mapped_column(default=1, comment="raised by every change")
    state: Mapped[State] = mapped_column(default=State.DRAFT, index=True)
    basis: Mapped[str] = mapped_column(String(BASIS_LENGTH), comment="what it was begun from, with the source")
    fingerprint: Mapped[str] = mapped_column(String(64), default="", comment="of the steps of the process as assessed")
    task: Mapped[str] = mapped_column(Text, default="")
    who: Mapped[str] = mapped_column(String(80), default="", comment="semicolons between")
    how_many: Mapped[int | None] = mapped_column(comment="people at once")
    routes: Mapped[str] = mapped_column(String(80), default="", comment="semicolons between")
    frequency: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    duration: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    existing_controls: Mapped[str] = mapped_column(Text, default="")
    air_changes_tenths: Mapped[int | None] = mapped_column(comment="of the room's air per hour, × 10")
    air_changes_source: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    glove_material: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    glove_minutes: Mapped[int | None] = mapped_column(comment="breakthrough time")
    glove_source: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    has_surveillance: Mapped[bool] = mapped_column(default=False, comment="health surveillance; never its findings")
    surveillance_reason: Mapped[str] = mapped_column(Text, default="")
    first_aid: Mapped[str] = mapped_column(Text, default="")
    spill: Mapped[str] = mapped_column(Text, default="")
    storage: Mapped[str] = mapped_column(Text, default="")
    disposal: Mapped[str] = mapped_column(Text, default="")
    residual: Mapped[Residual | None]
    residual_reason: Mapped[str] = mapped_column(Text, default="")
    under_18: Mapped[Under18 | None]
    under_18_with: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    review_on: Mapped[date | None]
    assessor_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="who wrote it last")
    written_at: Mapped[datetime] = mapped_column(UtcDateTime)
    submitted_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    approved_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    approved_by_id: Mapped[int | None] = mapped_column(
        ForeignKey("people.id"), comment="who approved it, or put an outside approval down"
    )
    outside_approver: Mapped[str] = mapped_column(String(NAME_LENGTH), default="")
    outside_organisation: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    own_approval_because: Mapped[str] = mapped_column(String(Assessment.REASON_LENGTH), default="")
    sent_back_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    sent_back_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    sent_back_because: Mapped[str] = mapped_column(String(Assessment.REASON_LENGTH), default="")
    assessment: Mapped[Assessment] = relationship(back_populates="versions")
    assessor: Mapped[Person] = relationship(foreign_keys=assessor_id)
    approved_by: Mapped[Person | None] = relationship(foreign_keys=approved_by_id)
    sent_back_by: Mapped[Person | None] = relationship(foreign_keys=sent_back_by_id)
    substances: Mapped[list["AssessedSubstance"]] = relationship(
        order_by="AssessedSubstance.position", cascade="all, delete-orphan"
    )
    controls: Mapped[list["Control"]] = relationship(order_by="Control.position", cascade="all, delete-orphan")

    @property
    def is_open(self) -> bool:
        """Whether it may still be changed."""
        return self.state in (State.DRAFT, State.SENT_BACK)


class AssessedSubstance(Model):
    """A product as it is handled in the task, with the entries it was assessed by and the control band they give.

    What was calculated and what the assessor chose instead stand beside each other; neither replaces the other.
    """

    __tablename__ = "risk_substances"
    __table_args__ = (
        UniqueConstraint("version_id", "position"),
        CheckConstraint("amount > 0", name="amount"),
        CheckConstraint("approach BETWEEN 1 AND 4", name="approach"),
        CheckConstraint("chosen_approach BETWEEN 1 AND 4", name="chosen_approach"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    version_id: Mapped[int] = mapped_column(ForeignKey("risk_versions.id"))
    position: Mapped[int]
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    name: Mapped[str] = mapped_column(String(Product.NAME_LENGTH), comment="of the product at the time")
    product_version: Mapped[int]
    sds_date: Mapped[date | None] = mapped_column(comment="of the SDS it was assessed by")
    water_parts_milli: Mapped[int | None] = mapped_column(BigInteger, comment="none: as supplied")
    amount: Mapped[int] = mapped_column(BigInteger, comment="handled in one go")
    unit: Mapped[Unit]
    codes: Mapped[str] = mapped_column(String(300), comment="as handled; spaces between")
    codes_from: Mapped[str] = mapped_column(String(300))
    sensitisers: Mapped[str] = mapped_column(String(400), default="", comment="present at any strength")
    spread: Mapped[Spread]
    spread_from: Mapped[str] = mapped_column(String(300))
    hazard_group: Mapped[HazardGroup]
    deciding: Mapped[str] = mapped_column(String(300), comment="codes that put it in the group")
    amount_band: Mapped[Amount]
    approach: Mapped[int] = mapped_column(comment="as calculated")
    skin_and_eyes: Mapped[bool]
    chosen_approach: Mapped[int | None] = mapped_column(comment="by the assessor, where it is not the calculated one")
    chosen_because: Mapped[str] = mapped_column(Text, default="")
    chosen_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    product: Mapped[Product] = relationship()
    chosen_by: Mapped[Person | None] = relationship()


class Control(Model):
    """One thing that keeps people safe in the task."""

    __tablename__ = "risk_controls"
    __table_args__ = (UniqueConstraint("version_id", "position"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    version_id: Mapped[int] = mapped_column(ForeignKey("risk_versions.id"))
    position: Mapped[int]
    level: Mapped[Level]
    text: Mapped[str] = mapped_column(Text)


class Action(Model):
    """Something to be done about an assessment, by somebody and by a day."""

    __tablename__ = "risk_actions"
    __table_args__ = (CheckConstraint("(done_at IS NULL) = (done_by_id IS NULL)", name="done"),)

    TEXT_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessments.id"), index=True)
    text: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    owner_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    due_on: Mapped[date]
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)
    added_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    done_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    done_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    done_note: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="")
    assessment: Mapped[Assessment] = relationship(back_populates="actions")
    owner: Mapped[Person] = relationship(foreign_keys=owner_id)
    done_by: Mapped[Person | None] = relationship(foreign_keys=done_by_id)


class FindingsGiven(Model):
    """What an approved version found was given to who answers for somebody of school age, before they start."""

    __tablename__ = "risk_findings_given"
    __table_args__ = (Index(None, "person_id", "version_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="who is of school age")
    version_id: Mapped[int] = mapped_column(ForeignKey("risk_versions.id"))
    given_to: Mapped[str] = mapped_column(String(Person.NAME_LENGTH))
    given_at: Mapped[datetime] = mapped_column(UtcDateTime)
    given_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
