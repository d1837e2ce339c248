"""A waiting list: who waits for a place, and offers, which hold units as bookings do."""

import sqlalchemy as sa
from alembic import op

revision = "0041"
down_revision = "0040"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")

# As in revision 0011: SQLite loses the triggers of a table that is changed.
_OVERLAPS = """WHEN EXISTS (
      SELECT 1 FROM holds
      WHERE unit_id = NEW.unit_id AND id IS NOT NEW.id AND starts_at < NEW.ends_at AND NEW.starts_at < ends_at)
    BEGIN SELECT RAISE(ABORT, 'holds_no_overlap'); END"""


def upgrade() -> None:
    op.add_column(
        "lab",
        sa.Column(
            "offer_minutes",
            sa.Integer(),
            nullable=False,
            server_default="240",
            comment="an offer from the waiting list stands so long, and never beyond the start",
        ),
    )
    op.create_table(
        "waits",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("station_id", KEY, nullable=False),
        sa.Column("from_at", INSTANT, nullable=False, comment="not before"),
        sa.Column("until_at", INSTANT, nullable=False, comment="over by then"),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("process_id", KEY, nullable=True),
        sa.Column("planned_size", sa.String(length=20), nullable=False),
        sa.Column("planned_count", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(length=200), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False, comment="the first to wait is the first to be offered"),
        sa.Column("offer_starts_at", INSTANT, nullable=True, comment="of the time held for them"),
        sa.Column("offered_until", INSTANT, nullable=True, comment="then it passes on to the next"),
        sa.Column("ended_at", INSTANT, nullable=True),
        sa.Column("ending", sa.String(length=40), nullable=True),
        sa.Column("booking_id", KEY, nullable=True, comment="what it came to"),
        sa.CheckConstraint("(ended_at IS NULL) = (ending IS NULL)", name=op.f("ck_waits_ending")),
        sa.CheckConstraint("(ending = 'booked') = (booking_id IS NOT NULL)", name=op.f("ck_waits_booked")),
        sa.CheckConstraint("(offered_until IS NULL) = (offer_starts_at IS NULL)", name=op.f("ck_waits_offer_whole")),
        sa.CheckConstraint("from_at < until_at", name=op.f("ck_waits_span")),
        sa.CheckConstraint("minutes >= 30 AND minutes <= 1440", name=op.f("ck_waits_minutes")),
        sa.CheckConstraint("offered_until <= offer_starts_at", name=op.f("ck_waits_offer_before_start")),
        sa.CheckConstraint("planned_count >= 0", name=op.f("ck_waits_planned_count")),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name="fk_waits_booking_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_waits_person_id"),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_waits_process_id"),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_waits_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_waits"),
    )
    op.create_index("ix_waits_person_id_until_at", "waits", ["person_id", "until_at"])
    op.create_index("ix_waits_until_at", "waits", ["until_at"])
    with op.batch_alter_table("holds") as table:
        table.alter_column("booking_id", existing_type=KEY, nullable=True)
        table.add_column(sa.Column("wait_id", KEY, nullable=True, comment="of an offer"))
        table.create_foreign_key("fk_holds_wait_id", "waits", ["wait_id"], ["id"])
        table.create_check_constraint(op.f("ck_holds_whose"), "(booking_id IS NULL) <> (wait_id IS NULL)")
    op.create_index("ix_holds_wait_id", "holds", ["wait_id"])
    _forbid_overlaps()


def downgrade() -> None:
    op.execute("DELETE FROM holds WHERE booking_id IS NULL")
    op.drop_index("ix_holds_wait_id", "holds")
    with op.batch_alter_table("holds") as table:
        table.drop_constraint(op.f("ck_holds_whose"), type_="check")
        table.drop_constraint("fk_holds_wait_id", type_="foreignkey")
        table.drop_column("wait_id")
        table.alter_column("booking_id", existing_type=KEY, nullable=False)
    _forbid_overlaps()
    op.drop_table("waits")
    op.drop_column("lab", "offer_minutes")


def _forbid_overlaps() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("INSERT", "UPDATE"):
            op.execute(f"CREATE TRIGGER holds_no_overlap_{verb.lower()} BEFORE {verb} ON holds {_OVERLAPS}")
