"""Tables of waste that leaves by carrier: streams, containers, pours, quarantine, statements, collections."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.products.models import Product


class WasteKind(StrEnum):
    """What kind of thing was poured: a solution by what it did in the process, or the water it was rinsed with."""

    DEVELOPER = "developer"
    STOP = "stop"
    FIXER = "fixer"
    WASH_AID = "wash_aid"
    WETTING_AGENT = "wetting_agent"
    TONER = "toner"
    BLEACH = "bleach"
    BLEACH_FIX = "bleach_fix"
    STABILISER = "stabiliser"
    COATING = "coating"
    RINSE = "rinse"

    @property
    def solution(self) -> SolutionKind | None:
        return None if self is WasteKind.RINSE else SolutionKind(self.value)

    @property
    def words(self) -> str:
        return KIND_NAMES[self.solution] if self.solution else "rinse water"


class WasteStream(Model):
    """A kind of waste kept apart from the others, with its code from the List of Waste."""

    __tablename__ = "waste_streams"
    __table_args__ = (UniqueConstraint("name"), UniqueConstraint("code"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    code: Mapped[str] = mapped_column(String(9), comment='List of Waste code as printed, such as "09 01 04*"')

    @property
    def is_hazardous(self) -> bool:
        return self.code.endswith("*")


class WasteContainer(Model):
    """A container that takes one stream until it is collected."""

    __tablename__ = "waste_containers"
    __table_args__ = (UniqueConstraint("label"), UniqueConstraint("vessel_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    vessel_id: Mapped[int] = mapped_column(ForeignKey("vessels.id"))
    stream_id: Mapped[int] = mapped_column(ForeignKey("waste_streams.id"), index=True)
    label: Mapped[str] = mapped_column(String(20), comment="the code to scan")
    place: Mapped[str] = mapped_column(String(80), default="")
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    collected_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    found_empty_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="recorded: its level set to nothing")
    vessel: Mapped[Vessel] = relationship(lazy="joined")
    stream: Mapped[WasteStream] = relationship(lazy="joined")
    quarantines: Mapped[list["Quarantine"]] = relationship(order_by="Quarantine.id", back_populates="container")

    @property
    def quarantine(self) -> "Quarantine | None":
        """The quarantine it is under now."""
        return next((quarantine for quarantine in self.quarantines if quarantine.released_at is None), None)

    @property
    def restated(self) -> "Quarantine | None":
        """The release that said anew what is in it: from then on nothing goes in, and it leaves as that."""
        anew = (one for one in reversed(self.quarantines) if one.release_kind is ReleaseKind.RESTATED)
        return next(anew, None)

    def was_restated_after(self, instant: datetime) -> bool:
        """Whether what was in it at an instant was classified anew later."""
        restated = self.restated
        return restated is not None and restated.released_at is not None and instant <= restated.released_at

    @property
    def code(self) -> str:
        """The List of Waste code of what is in it: its stream's, unless a release gave it another."""
        return self.restated.release_code if self.restated else self.stream.code


class ReleaseKind(StrEnum):
    """How a quarantine ended."""

    CARRY_OVER = "trivial carry-over"
    CORRECTED = "the entry was wrong"
    RESTATED = "classified anew"
    BEFORE = "under an earlier rule"  # with a note alone


class Quarantine(Model):
    """A container taken out of use because something is in it that should not be, or that nobody knows.

    Whoever poured it does not release it. `gas` is what may come off, empty where nothing does. What a release states
    stands in the columns that begin with its name.
    """

    __tablename__ = "quarantines"
    __table_args__ = (
        CheckConstraint("released_by_id <> poured_by_id", name="released_by_another"),
        CheckConstraint("(released_at IS NULL) = (release_kind IS NULL)", name="release_kind"),
        CheckConstraint(
            "release_kind <> 'classified anew' OR (release_code <> '' AND release_components <> '' "
            "AND release_properties <> '' AND release_acceptance <> '')",
            name="restated_in_full",
        ),
    )

    NOT_KNOWN = "not known"
    NOTE_LENGTH = 400
    PROPERTIES_LENGTH = 200
    ACCEPTANCE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"), index=True)
    reason: Mapped[str] = mapped_column(made_text(400))
    advice: Mapped[str] = mapped_column(made_text(600))
    started_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    released_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    released_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    release_note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    gas: Mapped[str] = mapped_column(made_text(160), default=NOT_KNOWN, comment="that may come off; empty for none")
    due_on: Mapped[date] = mapped_column(comment="by when somebody decides")
    poured_by_id: Mapped[int | None] = mapped_column(
        ForeignKey("people.id"), comment="whose pour or finding began it; somebody else releases it"
    )
    release_kind: Mapped[ReleaseKind | None]
    release_code: Mapped[str] = mapped_column(String(9), default="", comment="List of Waste code it leaves under")
    release_components: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="", comment="with their content")
    release_properties: Mapped[str] = mapped_column(String(PROPERTIES_LENGTH), default="", comment="HP codes")
    release_acceptance: Mapped[str] = mapped_column(
        String(ACCEPTANCE_LENGTH), default="", comment="the consignee's, in writing: by whom, when, reference"
    )
    container: Mapped[WasteContainer] = relationship(back_populates="quarantines")
    poured_by: Mapped[Person | None] = relationship(foreign_keys=poured_by_id)
    released_by: Mapped[Person | None] = relationship(foreign_keys=released_by_id)


class StatedProperties(Model):
    """What somebody competent says of the hazardous properties of a container, and why; "none" is said too.

    It speaks of what was in it then, up to `pour_id` and `poured_ul` in all: after another pour or a correction nothing
    is stated any more.
    """

    __tablename__ = "stated_properties"
    __table_args__ = (
        CheckConstraint("properties <> ''", name="properties"),
        CheckConstraint("reason <> ''", name="reason"),
    )

    NONE = "none"
    REASON_LENGTH = 400

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"), index=True)
    properties: Mapped[str] = mapped_column(String(Quarantine.PROPERTIES_LENGTH), comment='HP codes, or "none"')
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    pour_id: Mapped[int] = mapped_column(ForeignKey("pours.id"), comment="the newest that counted then")
    poured_ul: Mapped[int] = mapped_column(BigInteger, comment="all that counted then")
    stated_at: Mapped[datetime] = mapped_column(UtcDateTime)
    stated_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    stated_by: Mapped[Person] = relationship()


class Pour(Model):
    """Something poured into a container, rightly or not. Silver is an estimate with its range.

    Without a kind it is not known what it was. A product says more than its kind; without a dilution it counts as
    undiluted.
    """

    __tablename__ = "pours"
    __table_args__ = (
        UniqueConstraint("movement_id"),
        CheckConstraint("volume_ul > 0", name="volume"),
        CheckConstraint("silver_low_mg >= 0 AND silver_low_mg <= silver_high_mg", name="silver"),
        CheckConstraint("product_id IS NULL OR kind IS NOT NULL", name="product_has_kind"),
    )

    WHAT_LENGTH = 160

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    what: Mapped[str] = mapped_column(String(WHAT_LENGTH))
    waste_code: Mapped[str] = mapped_column(String(9), comment="of what was poured")
    volume_ul: Mapped[int] = mapped_column(BigInteger)
    silver_low_mg: Mapped[int] = mapped_column(BigInteger, default=0)
    silver_high_mg: Mapped[int] = mapped_column(BigInteger, default=0)
    kind: Mapped[WasteKind | None] = mapped_column(comment="none: not known")
    product_id: Mapped[int | None] = mapped_column(ForeignKey("products.id"), index=True)
    water_parts_milli: Mapped[int | None] = mapped_column(BigInteger, comment="of the product: N of 1+N, × 1000")
    wrong_because: Mapped[str] = mapped_column(made_text(400), default="")
    poured_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship()
    product: Mapped[Product | None] = relationship()
    correction: Mapped["PourCorrection | None"] = relationship(
        foreign_keys="PourCorrection.pour_id", back_populates="pour", lazy="joined", innerjoin=False
    )

    @property
    def counts(self) -> bool:
        """Whether it stands as it was recorded."""
        return self.correction is None


class PourCorrection(Model):
    """A pour that was recorded wrongly: the row stays, and another says what it really was, if anything."""

    __tablename__ = "pour_corrections"
    __table_args__ = (
        UniqueConstraint("pour_id"),
        UniqueConstraint("right_pour_id"),
        UniqueConstraint("movement_id"),
        CheckConstraint("reason <> ''", name="reason"),
        CheckConstraint("right_pour_id <> pour_id", name="another_pour"),
    )

    REASON_LENGTH = 400

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    pour_id: Mapped[int] = mapped_column(ForeignKey("pours.id"), comment="what was wrong")
    right_pour_id: Mapped[int | None] = mapped_column(
        ForeignKey("pours.id"), comment="what it really was; none: nothing was poured"
    )
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"), comment="that reversed it")
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    corrected_at: Mapped[datetime] = mapped_column(UtcDateTime)
    corrected_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    pour: Mapped[Pour] = relationship(foreign_keys=pour_id, back_populates="correction")
    corrected_by: Mapped[Person] = relationship()


class Collection(Model):
    """Containers handed to a carrier under one consignment note code."""

    __tablename__ = "collections"
    __table_args__ = (UniqueConstraint("note_code"),)

    NOTE_CODE_LENGTH = 30
    CARRIER_LENGTH = 160

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    note_code: Mapped[str] = mapped_column(String(NOTE_CODE_LENGTH))
    carrier: Mapped[str] = mapped_column(String(CARRIER_LENGTH))
    collected_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    lines: Mapped[list["CollectionLine"]] = relationship(order_by="CollectionLine.id", back_populates="collection")


class CollectionLine(Model):
    """One container of a collection: what the book said, and what the carrier said."""

    __tablename__ = "collection_lines"
    __table_args__ = (UniqueConstraint("container_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    collection_id: Mapped[int] = mapped_column(ForeignKey("collections.id"), index=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"))
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    book_ul: Mapped[int] = mapped_column(BigInteger, comment="level by the ledger")
    carrier_ul: Mapped[int | None] = mapped_column(BigInteger, comment="volume by the carrier")
    weight_mg: Mapped[int | None] = mapped_column(BigInteger, comment="net weight by the carrier")
    properties: Mapped[str | None] = mapped_column(
        String(Quarantine.PROPERTIES_LENGTH), comment="HP codes it left with; none: from before they were kept"
    )
    collection: Mapped[Collection] = relationship(back_populates="lines")
    container: Mapped[WasteContainer] = relationship()

    @property
    def difference_ul(self) -> int | None:
        """Carrier's volume less the book's; None where the carrier gave no volume."""
        return None if self.carrier_ul is None else self.carrier_ul - self.book_ul
