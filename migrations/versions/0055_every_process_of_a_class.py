"""Every process of a class stands with its booking, and is asked about."""

import sqlalchemy as sa
from alembic import op

revision = "0055"
down_revision = "0054"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
# Bookings of courses made before this step: all their processes but the first, which the booking has.
FROM_COURSES = """
INSERT INTO booking_processes (booking_id, process_id)
SELECT m.booking_id, p.process_id
FROM course_meetings m
JOIN course_processes p ON p.course_id = m.course_id
JOIN bookings b ON b.id = m.booking_id
WHERE b.process_id IS NULL OR b.process_id <> p.process_id
"""


def upgrade() -> None:
    op.create_table(
        "booking_processes",
        sa.Column("id", KEY, nullable=False),
        sa.Column("booking_id", KEY, nullable=False),
        sa.Column("process_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name=op.f("fk_booking_processes_booking_id")),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name=op.f("fk_booking_processes_process_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking_processes")),
        sa.UniqueConstraint("booking_id", "process_id", name=op.f("uq_booking_processes_booking_id_process_id")),
    )
    op.execute(FROM_COURSES)


def downgrade() -> None:
    op.drop_table("booking_processes")
