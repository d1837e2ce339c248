"""What control strips aim at."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.control_strips import Limits, Readings
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.products.models import Product


class StripAim(Model):
    """What a line's control strips aim at: read off the reference strip of a box. The newest of a line counts."""

    __tablename__ = "strip_aims"
    __table_args__ = (
        CheckConstraint("fog >= 0 AND fog < speed AND speed < middle", name="densities"),
        CheckConstraint("speed_step >= 2 AND speed_step < middle_step", name="steps"),
        CheckConstraint("fog_over > 0 AND middle_within > 0 AND contrast_within > 0", name="limits"),
    )

    BOX_LENGTH = 80
    MOST_STEPS = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"), index=True)
    box: Mapped[str] = mapped_column(String(BOX_LENGTH), comment="the strips it holds for")
    speed_step: Mapped[int] = mapped_column(comment="from 1, the clear step")
    middle_step: Mapped[int]
    fog: Mapped[int] = mapped_column(comment="density × 1000")
    speed: Mapped[int] = mapped_column(comment="density × 1000")
    middle: Mapped[int] = mapped_column(comment="density × 1000")
    fog_over: Mapped[int] = mapped_column(comment="base and fog at most so much over the aim, × 1000")
    middle_within: Mapped[int] = mapped_column(comment="middle step within, × 1000")
    contrast_within: Mapped[int] = mapped_column(comment="middle step over speed point within, × 1000")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH), comment="of the limits")
    set_at: Mapped[datetime] = mapped_column(UtcDateTime)
    set_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    set_by: Mapped[Person] = relationship()

    @property
    def readings(self) -> Readings:
        return Readings(self.fog, self.speed, self.middle)

    @property
    def limits(self) -> Limits:
        return Limits(self.fog_over, self.middle_within, self.contrast_within, self.source)
