"""Tables of processes: ways of working, as ordered steps."""

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.sizes import FilmFormat, Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.products.models import Product


class Process(Model):
    """A way of working, as ordered steps. `version` is raised by every change: what was judged of an older one is out
    of date.
    """

    __tablename__ = "processes"
    __table_args__ = (UniqueConstraint("name"),)

    NAME_LENGTH = 120
    NOTE_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    material: Mapped[Material]
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    version: Mapped[int] = mapped_column(default=1)
    changed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    steps: Mapped[list["ProcessStep"]] = relationship(order_by="ProcessStep.position", cascade="all, delete-orphan")


class ProcessStep(Model):
    """One step of a process. Steps in water have no product."""

    __tablename__ = "process_steps"
    __table_args__ = (
        UniqueConstraint("process_id", "position"),
        CheckConstraint("seconds > 0", name="seconds"),
        CheckConstraint("changes >= 1", name="changes"),
        CheckConstraint("tolerance_milli_c > 0", name="tolerance"),
    )

    NAME_LENGTH = 60
    NOTE_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    process_id: Mapped[int] = mapped_column(ForeignKey("processes.id"))
    position: Mapped[int]
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    product_id: Mapped[int | None] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int | None] = mapped_column(BigInteger)
    seconds: Mapped[int | None]
    temperature_milli_c: Mapped[int | None] = mapped_column(comment="°C × 1000")
    tolerance_milli_c: Mapped[int | None] = mapped_column(comment="how far off it may be, °C × 1000")
    changes: Mapped[int | None] = mapped_column(comment="changes of water in a wash")
    any_film: Mapped[bool] = mapped_column(default=False, comment="of a developer: its time is that of every film")
    in_the_dark: Mapped[bool] = mapped_column(default=False)
    air: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="", comment="lid and ventilation")
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH), default="")
    product: Mapped[Product | None] = relationship()


class FilmTime(Model):
    """How long one film at one exposure index develops in one developer, so diluted, warm and agitated, and by whom.

    The lab's own table. A row that is withdrawn stays to be read, and is used no more.
    """

    __tablename__ = "film_times"
    __table_args__ = (
        CheckConstraint("exposure_index > 0", name="exposure_index"),
        CheckConstraint("water_parts_milli >= 0", name="water_parts"),
        CheckConstraint("seconds > 0", name="seconds"),
        CheckConstraint("free_milli >= 0", name="free"),
        CheckConstraint("longer_ppm >= 0 AND longer_ppm <= 1000000", name="longer"),
        Index(
            "uq_film_times_in_use",
            "product_id",
            "film",
            "exposure_index",
            "water_parts_milli",
            "temperature_milli_c",
            "agitation",
            "film_format",
            unique=True,
            sqlite_where=text("withdrawn_at IS NULL"),
            postgresql_where=text("withdrawn_at IS NULL"),
        ),
    )

    FILM_LENGTH = 80
    AGITATION_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    film: Mapped[str] = mapped_column(String(FILM_LENGTH))
    exposure_index: Mapped[int]
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="N of 1+N, × 1000")
    temperature_milli_c: Mapped[int] = mapped_column(comment="°C × 1000")
    agitation: Mapped[str] = mapped_column(String(AGITATION_LENGTH))
    film_format: Mapped[FilmFormat]
    seconds: Mapped[int]
    free_milli: Mapped[int] = mapped_column(default=0, comment="rolls through a litre that change nothing, × 1000")
    longer_ppm: Mapped[int | None] = mapped_column(comment="longer for each further roll in a litre; none: not stated")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH))
    version: Mapped[int] = mapped_column(default=1)
    entered_at: Mapped[datetime] = mapped_column(UtcDateTime)
    entered_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    product: Mapped[Product] = relationship()
    entered_by: Mapped[Person] = relationship()

    @property
    def subject(self) -> tuple[str, int, str]:
        """What somebody says of their film before a time can be looked up: film, exposure index, agitation."""
        return self.film, self.exposure_index, self.agitation
