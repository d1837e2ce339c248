"""Bookings and holds."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)

# Instants are fixed-format UTC text on SQLite, so that text order is time order.
_OVERLAPS = """WHEN EXISTS (
      SELECT 1 FROM holds
      WHERE unit_id = NEW.unit_id AND id IS NOT NEW.id AND starts_at < NEW.ends_at AND NEW.starts_at < ends_at)
    BEGIN SELECT RAISE(ABORT, 'holds_no_overlap'); END"""


def upgrade() -> None:
    op.create_table(
        "bookings",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False, comment="whose time; the instructor of a class"),
        sa.Column("station_id", ID, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.Column("class_name", sa.String(length=80), nullable=False),
        sa.Column("starts_at", INSTANT, nullable=False),
        sa.Column("ends_at", INSTANT, nullable=False),
        sa.Column("process_id", ID, nullable=True),
        sa.Column("planned_size", sa.String(length=20), nullable=False),
        sa.Column("planned_material", WORD, nullable=True),
        sa.Column("planned_count", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(length=200), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("made_by_id", ID, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False, comment="raised by every change"),
        sa.Column("cancelled_at", INSTANT, nullable=True),
        sa.Column("cancelled_by_id", ID, nullable=True),
        sa.Column("arrived_at", INSTANT, nullable=True),
        sa.Column("left_at", INSTANT, nullable=True),
        sa.CheckConstraint("left_at IS NULL OR arrived_at IS NOT NULL", name=op.f("ck_bookings_left_after_arrival")),
        sa.CheckConstraint("planned_count >= 0", name=op.f("ck_bookings_planned_count")),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_bookings_span")),
        sa.CheckConstraint("units >= 1", name=op.f("ck_bookings_units")),
        sa.ForeignKeyConstraint(["cancelled_by_id"], ["people.id"], name="fk_bookings_cancelled_by_id"),
        sa.ForeignKeyConstraint(["made_by_id"], ["people.id"], name="fk_bookings_made_by_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_bookings_person_id"),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_bookings_process_id"),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_bookings_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_bookings"),
    )
    op.create_index("ix_bookings_person_id_starts_at", "bookings", ["person_id", "starts_at"])
    op.create_index("ix_bookings_starts_at", "bookings", ["starts_at"])
    op.create_table(
        "holds",
        sa.Column("id", ID, nullable=False),
        sa.Column("unit_id", ID, nullable=False),
        sa.Column("booking_id", ID, nullable=False),
        sa.Column("starts_at", INSTANT, nullable=False),
        sa.Column("ends_at", INSTANT, nullable=False, comment="the margin to clear up included"),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_holds_span")),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name="fk_holds_booking_id"),
        sa.ForeignKeyConstraint(["unit_id"], ["station_units.id"], name="fk_holds_unit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_holds"),
    )
    op.create_index("ix_holds_booking_id", "holds", ["booking_id"])
    op.create_index("ix_holds_starts_at", "holds", ["starts_at"])
    op.create_index("ix_holds_unit_id_starts_at", "holds", ["unit_id", "starts_at"])
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "ALTER TABLE holds ADD CONSTRAINT holds_no_overlap EXCLUDE USING gist "
            "(int8range(unit_id, unit_id, '[]') WITH &&, tstzrange(starts_at, ends_at) WITH &&)"
        )
    else:
        for verb in ("INSERT", "UPDATE"):
            op.execute(f"CREATE TRIGGER holds_no_overlap_{verb.lower()} BEFORE {verb} ON holds {_OVERLAPS}")


def downgrade() -> None:
    op.drop_table("holds")
    op.drop_table("bookings")
