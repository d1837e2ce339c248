"""Tables of tests that belong to no bath: how a line's work is washed, how long paper may lie under a light."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.baths.models import Bath, BathLine, CountedWork
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.sizes import Material
from labsys.chemistry.washing import NoPublishedLimit, limit_g_per_m2
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Station
from labsys.proving.fog import MOST_GAIN

UG_PER_G = 1_000_000


class WashTest(CountedWork, Model):
    """Thiosulfate left in finished work of a line: the stain of a drop, or what a laboratory measured.

    `bath_id` is the fixer the piece went through, where that is known, with what had gone through it by then.
    """

    __tablename__ = "wash_tests"
    __table_args__ = (
        CheckConstraint("(stain IS NULL) <> (ug_per_m2 IS NULL)", name="one_result"),
        CheckConstraint("ug_per_m2 >= 0", name="measured"),
        Index(None, "line_id", "tested_at"),
    )

    PIECE_LENGTH = 80
    MOST_G_PER_M2 = 3  # a film out of the fixer holds about 2: M. Torzynski, Strasbourg 2004

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"))
    bath_id: Mapped[int | None] = mapped_column(ForeignKey("baths.id"), index=True)
    material: Mapped[Material]
    piece: Mapped[str] = mapped_column(String(PIECE_LENGTH), comment="which film or paper, and how it was washed")
    stain: Mapped[Stain | None] = mapped_column(comment="of a drop of silver nitrate")
    ug_per_m2: Mapped[int | None] = mapped_column(comment="thiosulfate ion, µg/m²")
    tested_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    tested_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    tested_by: Mapped[Person] = relationship()
    line: Mapped[BathLine] = relationship()
    bath: Mapped[Bath | None] = relationship()

    @property
    def is_washed(self) -> bool | None:
        """Whether it is washed enough to keep; None where no limit is published for what was measured."""
        if self.ug_per_m2 is None:
            return self.stain is not Stain.PLAIN
        try:
            return self.ug_per_m2 <= limit_g_per_m2(material=self.material) * UG_PER_G
        except NoPublishedLimit:
            return None

    @property
    def finding(self) -> str:
        """The result in words."""
        if self.ug_per_m2 is None:
            return f"drop of silver nitrate: {self.stain}"
        return f"{self.ug_per_m2 / UG_PER_G:g} g/m² of thiosulfate"


class LightTest(StrEnum):
    """How a safelight is tested."""

    COINS = "coins on exposed paper"
    GAIN = "density gained by exposed film"


class SafelightTest(Model):
    """How long a paper may lie under the safelight of a place, or what exposed film gains there in two minutes."""

    __tablename__ = "safelight_tests"
    __table_args__ = (
        CheckConstraint("(clean_s IS NULL) <> (gain_milli IS NULL)", name="one_result"),
        CheckConstraint("clean_s >= 0 AND changed_s > clean_s", name="steps"),
        CheckConstraint("(clean_s IS NULL) = (needed_s IS NULL) AND needed_s > 0", name="needed"),
        CheckConstraint("changed_s IS NULL OR clean_s IS NOT NULL", name="of_coins"),
        CheckConstraint("distance_cm > 0", name="distance"),
        Index(None, "station_id", "tested_at"),
    )

    WORDS_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    paper: Mapped[str] = mapped_column(String(WORDS_LENGTH), comment="which paper or film")
    lamp: Mapped[str] = mapped_column(String(WORDS_LENGTH), comment="lamp and filter")
    distance_cm: Mapped[int]
    clean_s: Mapped[int | None] = mapped_column(comment="longest step without a change; 0: the shortest changed")
    changed_s: Mapped[int | None] = mapped_column(comment="shortest step that changed; empty: none did")
    needed_s: Mapped[int | None] = mapped_column(comment="longest that paper is handled there")
    gain_milli: Mapped[int | None] = mapped_column(comment="density gained in two minutes, × 1000")
    tested_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    tested_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    tested_by: Mapped[Person] = relationship()
    station: Mapped[Station] = relationship()

    @property
    def is_safe(self) -> bool:
        if self.gain_milli is not None:
            return self.gain_milli <= MOST_GAIN
        return self.clean_s is not None and self.needed_s is not None and self.clean_s >= self.needed_s

    @property
    def finding(self) -> str:
        """The result in words."""
        if self.gain_milli is not None:
            return f"gains {self.gain_milli / 1000:.2f} in two minutes, at most {MOST_GAIN / 1000:.2f}"
        if not self.clean_s:
            return f"already {_minutes(self.changed_s)} fog it"
        if self.changed_s is None:
            return f"at least {_minutes(self.clean_s)} safe"
        return f"{_minutes(self.clean_s)} safe, {_minutes(self.changed_s)} fog it"


def _minutes(seconds: int | None) -> str:
    return f"{(seconds or 0) / 60:g} min"
