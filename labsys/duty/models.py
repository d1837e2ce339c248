"""Tables of duty: the rota, who has to be present, working alone with its call-in, who is in, and whom to tell."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.competences.models import Competence
from labsys.database import BigId, Model, UtcDateTime
from labsys.inductions.models import Induction
from labsys.people.models import Person, Role
from labsys.places.models import Station
from labsys.processes.models import Process


class DutyKind(StrEnum):
    """What somebody is there for while the lab is open."""

    KEYHOLDER = "keyholder"
    FIRST_AIDER = "first aider"
    ON_CALL = "on call"

    @property
    def is_in_the_lab(self) -> bool:
        """Whether they are in the building meanwhile; who is on call comes when rung."""
        return self is not DutyKind.ON_CALL


class Turn(Model):
    """Somebody's turn on the rota: at an opening of each such weekday, or of one date, which goes before.

    A turn belongs to the opening in whose hours `from_minute` lies, so that it outlives a change of hours. On one
    date nobody may be named, where who has that weekday is away.
    """

    __tablename__ = "duty_turns"
    __table_args__ = (
        CheckConstraint("(weekday IS NULL) <> (day IS NULL)", name="weekday_or_day"),
        CheckConstraint("weekday >= 0 AND weekday <= 6", name="weekday"),
        CheckConstraint("from_minute >= 0 AND from_minute < 1440", name="from_minute"),
        CheckConstraint("person_id IS NOT NULL OR day IS NOT NULL", name="person"),
        UniqueConstraint("kind", "weekday", "from_minute"),
        UniqueConstraint("kind", "day", "from_minute"),
        Index(None, "day"),
    )

    TELEPHONE_LENGTH = 40

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[DutyKind]
    weekday: Mapped[int | None] = mapped_column(comment="0 is Monday")
    day: Mapped[date | None]
    from_minute: Mapped[int] = mapped_column(comment="on the wall clock, within the hours of its opening")
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), comment="empty on a date: nobody")
    telephone: Mapped[str] = mapped_column(String(TELEPHONE_LENGTH), default="", comment="where they are reached")
    person: Mapped[Person | None] = relationship()


class AloneRule(StrEnum):
    """Whether somebody may work where nobody else is in the building: the lab's choice."""

    NEVER = "never"
    CALL_IN = "with a call-in"
    ADULTS = "adults, where nothing is dangerous"


class DutyRules(Model):
    """The lab's choices about working alone and being overdue; without a row the usual ones stand."""

    __tablename__ = "duty_rules"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("ask_every_minutes >= 5 AND ask_every_minutes <= 240", name="ask_every"),
        CheckConstraint("answer_within_minutes >= 1 AND answer_within_minutes <= 120", name="answer_within"),
        CheckConstraint("overdue_after_minutes >= 0 AND overdue_after_minutes <= 240", name="overdue_after"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    alone: Mapped[AloneRule]
    ask_every_minutes: Mapped[int] = mapped_column(comment="how often whoever is alone is asked")
    answer_within_minutes: Mapped[int] = mapped_column(comment="how long an answer is waited for, of anybody")
    overdue_after_minutes: Mapped[int] = mapped_column(comment="after the end of somebody's time")


class StaffingRule(Model):
    """How many people have to be there for a place or a process, who, and whether only in staffed hours."""

    __tablename__ = "staffing_rules"
    __table_args__ = (
        CheckConstraint("(station_id IS NULL) <> (process_id IS NULL)", name="one_subject"),
        CheckConstraint("least_people >= 1 AND least_people <= 20", name="least_people"),
        CheckConstraint(
            "(CASE WHEN role IS NULL THEN 0 ELSE 1 END) + (CASE WHEN induction_id IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN competence IS NULL THEN 0 ELSE 1 END) <= 1",
            name="one_who",
        ),
        UniqueConstraint("station_id"),
        UniqueConstraint("process_id"),
    )

    MOST_PEOPLE = 20

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"))
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    least_people: Mapped[int] = mapped_column(default=1, comment="in the building, whoever works included")
    role: Mapped[Role | None] = mapped_column(comment="somebody of this role has to be there")
    induction_id: Mapped[int | None] = mapped_column(
        ForeignKey("inductions.id"), comment="somebody who holds this has to be there"
    )
    competence: Mapped[Competence | None] = mapped_column(comment="somebody who holds this has to be there")
    staffed_only: Mapped[bool] = mapped_column(default=False)
    station: Mapped[Station | None] = relationship()
    process: Mapped[Process | None] = relationship()
    induction: Mapped[Induction | None] = relationship()


class AlertContact(Model):
    """Somebody who is told when nobody answers or somebody is overdue, the first of them first."""

    __tablename__ = "alert_contacts"
    __table_args__ = (UniqueConstraint("position"), UniqueConstraint("person_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    position: Mapped[int]
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    person: Mapped[Person] = relationship()


class Presence(Model):
    """Somebody in the building without a booking or a class: staff, a guest, whoever came by.

    When they came, and when that was entered, are two columns: a phone without a network tells later.
    """

    __tablename__ = "presences"
    __table_args__ = (
        CheckConstraint("(person_id IS NULL) = (name <> '')", name="person_or_name"),
        CheckConstraint("left_at IS NULL OR left_at >= came_at", name="left_after_coming"),
        Index(None, "left_at", "came_at"),
        Index(None, "person_id"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    name: Mapped[str] = mapped_column(String(Person.NAME_LENGTH), default="", comment="of who has no account")
    came_at: Mapped[datetime] = mapped_column(UtcDateTime)
    leaves_by: Mapped[datetime] = mapped_column(UtcDateTime, comment="overdue some time after")
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    person: Mapped[Person | None] = relationship(foreign_keys=[person_id])


class CallIn(Model):
    """Somebody is alone and is asked again and again whether they are all right, until somebody comes or they go."""

    __tablename__ = "call_ins"
    __table_args__ = (
        CheckConstraint("ended_at IS NULL OR ended_at >= began_at", name="ended_after_begin"),
        Index(
            "uq_call_ins_open",
            "person_id",
            unique=True,
            sqlite_where=text("ended_at IS NULL"),
            postgresql_where=text("ended_at IS NULL"),
        ),
    )

    OUTSIDE_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    began_at: Mapped[datetime] = mapped_column(UtcDateTime)
    due_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="when they are asked next, or are since")
    asked_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="for what is due now")
    answered_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    stopped: Mapped[str] = mapped_column(Text, default="", comment="why their work stops; empty: it goes on")
    outside: Mapped[str] = mapped_column(
        String(OUTSIDE_LENGTH), default="", comment="who outside expects their call, with a number"
    )
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship()


class Alert(Model):
    """Somebody did not answer, or is overdue: one person after the other is told until somebody answers."""

    __tablename__ = "duty_alerts"
    __table_args__ = (
        UniqueConstraint("cause"),
        CheckConstraint("(answered_at IS NULL) = (answered_by_id IS NULL)", name="answered"),
        Index(None, "answered_at", "ended_at"),
    )

    SAID_LENGTH = 400
    ANSWER_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    cause: Mapped[str] = mapped_column(String(80), comment="the same cause never raises two")
    about_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), comment="empty: somebody without an account")
    who: Mapped[str] = mapped_column(String(Person.NAME_LENGTH))
    said: Mapped[str] = mapped_column(String(SAID_LENGTH))
    raised_at: Mapped[datetime] = mapped_column(UtcDateTime)
    answered_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    answered_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    answer: Mapped[str] = mapped_column(String(ANSWER_LENGTH), default="")
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="it came right without anybody's answer")
    answered_by: Mapped[Person | None] = relationship(foreign_keys=[answered_by_id])
    tellings: Mapped[list["Telling"]] = relationship(order_by="Telling.step", back_populates="alert")

    @property
    def is_open(self) -> bool:
        return self.answered_at is None and self.ended_at is None


class Telling(Model):
    """Somebody was told of an alert: once for each step, however many processes look after it."""

    __tablename__ = "duty_tellings"
    __table_args__ = (UniqueConstraint("alert_id", "step"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    alert_id: Mapped[int] = mapped_column(ForeignKey("duty_alerts.id"))
    step: Mapped[int]
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    told_at: Mapped[datetime] = mapped_column(UtcDateTime)
    alert: Mapped[Alert] = relationship(back_populates="tellings")
    person: Mapped[Person] = relationship()
