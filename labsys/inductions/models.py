"""Tables of inductions: versions with validity, what needs which, and sign-offs with their withdrawals."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Station


class Hazard(StrEnum):
    """What a chemical can be that asks for an induction of its own: a sensitiser at any strength, else as supplied."""

    SENSITISER = "skin sensitiser"
    CORROSIVE = "corrosive"
    TOXIC = "toxic"
    POWDER = "a powder"
    CONCENTRATE = "a concentrate"


class Induction(Model):
    """Something people are taught and sign for, such as skin care or the enlarger."""

    __tablename__ = "inductions"
    __table_args__ = (UniqueConstraint("name"),)

    NAME_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    how_to_get: Mapped[str] = mapped_column(String(200), comment="shown to whoever lacks it")
    versions: Mapped[list["InductionVersion"]] = relationship(order_by="InductionVersion.number")
    requirements: Mapped[list["Requirement"]] = relationship(order_by="Requirement.id", back_populates="induction")


class InductionVersion(Model):
    """What is taught. A new version that must be repeated ends what was signed under the earlier ones."""

    __tablename__ = "induction_versions"
    __table_args__ = (
        UniqueConstraint("induction_id", "number"),
        CheckConstraint("valid_days > 0", name="valid_days"),
        CheckConstraint("refresher_days >= 0", name="refresher_days"),
        CheckConstraint("pass_mark > 0", name="pass_mark"),
    )

    COVERS_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("inductions.id"))
    number: Mapped[int]
    text: Mapped[str] = mapped_column(Text, comment="the points covered, one a line")
    valid_days: Mapped[int | None] = mapped_column(comment="none: does not lapse")
    must_repeat: Mapped[bool] = mapped_column(comment="whoever signed an earlier version signs again")
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime)
    covers: Mapped[str] = mapped_column(String(COVERS_LENGTH), default="", comment="hazards its text teaches about")
    practice: Mapped[str] = mapped_column(Text, default="", comment="what is shown before a witness, one item a line")
    refresher: Mapped[str] = mapped_column(Text, default="", comment="the shorter text for who held it before")
    refresher_days: Mapped[int | None] = mapped_column(comment="so long after it lapsed the refresher will do")
    quiz: Mapped[str] = mapped_column(Text, default="", comment="questions, each with its answers under it")
    pass_mark: Mapped[int | None] = mapped_column(comment="right answers that pass the quiz")

    @property
    def hazards_covered(self) -> frozenset[Hazard]:
        return frozenset(Hazard(hazard) for hazard in self.covers.split(", ") if hazard)


class InductionPicture(Model):
    """A picture that texts of an induction show by its number. It never changes: what was taught stays to be seen."""

    __tablename__ = "induction_pictures"
    __table_args__ = (
        UniqueConstraint("induction_id", "number"),
        CheckConstraint("width > 0 AND height > 0", name="size"),
    )

    SHOWS_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("inductions.id"))
    number: Mapped[int]
    shows: Mapped[str] = mapped_column(String(SHOWS_LENGTH), comment="in words, for who cannot see it")
    media_type: Mapped[str] = mapped_column(String(40))
    width: Mapped[int]
    height: Mapped[int]
    digest: Mapped[str] = mapped_column(String(64), comment="SHA-256 of content")
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)


class QuizAttempt(Model):
    """The answers somebody gave to the quiz of a version, at once; each attempt is kept. Passing signs nobody off."""

    __tablename__ = "quiz_attempts"
    __table_args__ = (
        CheckConstraint("right_answers >= 0 AND right_answers <= questions", name="right_answers"),
        CheckConstraint("pass_mark > 0 AND pass_mark <= questions", name="pass_mark"),
        Index(None, "person_id", "version_id"),
    )

    ANSWERS_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    version_id: Mapped[int] = mapped_column(ForeignKey("induction_versions.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    answers: Mapped[str] = mapped_column(String(ANSWERS_LENGTH), comment="the number of each answer given, in order")
    right_answers: Mapped[int]
    questions: Mapped[int]
    pass_mark: Mapped[int]
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    version: Mapped[InductionVersion] = relationship()

    @property
    def is_passed(self) -> bool:
        return self.right_answers >= self.pass_mark


class Requirement(Model):
    """What an induction is needed for: a station, a family of processes, or a hazard. Exactly one of the three."""

    __tablename__ = "requirements"
    __table_args__ = (
        CheckConstraint(
            "(CASE WHEN station_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN material IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN hazard IS NULL THEN 0 ELSE 1 END) = 1",
            name="one_subject",
        ),
        UniqueConstraint("induction_id", "station_id"),
        UniqueConstraint("induction_id", "material"),
        UniqueConstraint("induction_id", "hazard"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("inductions.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"))
    material: Mapped[Material | None] = mapped_column(comment="the family of a process")
    hazard: Mapped[Hazard | None]
    induction: Mapped[Induction] = relationship(back_populates="requirements")
    station: Mapped[Station | None] = relationship()


class ConfirmedBy(StrEnum):
    """How the person taught said that it is true."""

    OWN_ACCOUNT = "own account"
    SIGNATURE_SHEET = "signature sheet"


class SignOff(Model):
    """Somebody who holds an induction says that somebody else was taught it; it counts once that person confirms it.

    Where the version asks for practice, somebody who holds it saw it first; where it has a quiz, they passed it first.
    """

    __tablename__ = "sign_offs"
    __table_args__ = (
        CheckConstraint("(confirmed_at IS NULL) = (confirmed_by IS NULL)", name="confirmed"),
        CheckConstraint("(practice_seen_at IS NULL) = (practice_seen_by_id IS NULL)", name="practice_seen"),
        CheckConstraint("practice_seen_by_id <> person_id", name="practice_witness"),
        Index(None, "person_id", "version_id"),
    )

    SHEET_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    version_id: Mapped[int] = mapped_column(ForeignKey("induction_versions.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    signed_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    is_appointment: Mapped[bool] = mapped_column(
        default=False, comment="the manager names a first holder, whom nobody here could teach"
    )
    taught_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    lapses_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    confirmed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    confirmed_by: Mapped[ConfirmedBy | None]
    sheet: Mapped[str] = mapped_column(String(SHEET_LENGTH), default="", comment="where the signed sheet is kept")
    is_refresher: Mapped[bool] = mapped_column(default=False, comment="taught by the shorter text")
    practice_seen_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="entered")
    practice_seen_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    version: Mapped[InductionVersion] = relationship()
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    signed_by: Mapped[Person] = relationship(foreign_keys=[signed_by_id])
    practice_seen_by: Mapped[Person | None] = relationship(foreign_keys=[practice_seen_by_id])
    withdrawal: Mapped["Withdrawal | None"] = relationship(back_populates="sign_off")


class Withdrawal(Model):
    """A sign-off that no longer counts, and why: the correction is a row of its own."""

    __tablename__ = "withdrawals"
    __table_args__ = (UniqueConstraint("sign_off_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    sign_off_id: Mapped[int] = mapped_column(ForeignKey("sign_offs.id"))
    reason: Mapped[str] = mapped_column(String(200))
    withdrawn_at: Mapped[datetime] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    sign_off: Mapped[SignOff] = relationship(back_populates="withdrawal")
