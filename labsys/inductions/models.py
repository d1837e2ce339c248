"""Tables of inductions: versions with validity, what needs which, and sign-offs with their withdrawals."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
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
    __table_args__ = (UniqueConstraint("induction_id", "number"), CheckConstraint("valid_days > 0", name="valid_days"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("inductions.id"))
    number: Mapped[int]
    text: Mapped[str] = mapped_column(Text, comment="the points covered, one a line")
    valid_days: Mapped[int | None] = mapped_column(comment="none: does not lapse")
    must_repeat: Mapped[bool] = mapped_column(comment="whoever signed an earlier version signs again")
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime)


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
    """Somebody who holds an induction says that somebody else was taught it; it counts once that person confirms it."""

    __tablename__ = "sign_offs"
    __table_args__ = (
        CheckConstraint("(confirmed_at IS NULL) = (confirmed_by IS NULL)", name="confirmed"),
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
    version: Mapped[InductionVersion] = relationship()
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    signed_by: Mapped[Person] = relationship(foreign_keys=[signed_by_id])
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
