"""Places: rooms, stations, opening hours and closures."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "rooms",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_rooms"),
        sa.UniqueConstraint("name", name="uq_rooms_name"),
    )
    op.create_table(
        "stations",
        sa.Column("id", ID, nullable=False),
        sa.Column("room_id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False, comment="order on the board"),
        sa.Column("margin_minutes", sa.Integer(), nullable=False, comment="kept free after a booking, to clear up"),
        sa.Column("note", sa.String(length=120), nullable=False),
        sa.Column("closed_at", INSTANT, nullable=True, comment="taken out of use for good"),
        sa.CheckConstraint("margin_minutes >= 0 AND margin_minutes <= 240", name=op.f("ck_stations_margin")),
        sa.ForeignKeyConstraint(["room_id"], ["rooms.id"], name="fk_stations_room_id"),
        sa.PrimaryKeyConstraint("id", name="pk_stations"),
        sa.UniqueConstraint("name", name="uq_stations_name"),
    )
    op.create_table(
        "station_units",
        sa.Column("id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_station_units_number")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_station_units_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_station_units"),
        sa.UniqueConstraint("station_id", "number", name="uq_station_units_station_id_number"),
    )
    op.create_table(
        "companions",
        sa.Column("id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=False),
        sa.Column("brings_id", ID, nullable=False),
        sa.CheckConstraint("station_id <> brings_id", name=op.f("ck_companions_another")),
        sa.ForeignKeyConstraint(["brings_id"], ["stations.id"], name="fk_companions_brings_id"),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_companions_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_companions"),
        sa.UniqueConstraint("station_id", "brings_id", name="uq_companions_station_id_brings_id"),
    )
    op.create_table(
        "opening_hours",
        sa.Column("id", ID, nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=False, comment="0 is Monday"),
        sa.Column("opens_minute", sa.Integer(), nullable=False),
        sa.Column("closes_minute", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "opens_minute >= 0 AND opens_minute < closes_minute AND closes_minute <= 1440",
            name=op.f("ck_opening_hours_minutes"),
        ),
        sa.CheckConstraint("weekday >= 0 AND weekday <= 6", name=op.f("ck_opening_hours_weekday")),
        sa.PrimaryKeyConstraint("id", name="pk_opening_hours"),
        sa.UniqueConstraint("weekday", "opens_minute", name="uq_opening_hours_weekday_opens_minute"),
    )
    op.create_table(
        "closures",
        sa.Column("id", ID, nullable=False),
        sa.Column("starts_at", INSTANT, nullable=False),
        sa.Column("ends_at", INSTANT, nullable=False),
        sa.Column("reason", sa.String(length=120), nullable=False),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_closures_span")),
        sa.PrimaryKeyConstraint("id", name="pk_closures"),
    )
    op.create_index("ix_closures_starts_at", "closures", ["starts_at"])


def downgrade() -> None:
    op.drop_table("closures")
    op.drop_table("opening_hours")
    op.drop_table("companions")
    op.drop_table("station_units")
    op.drop_table("stations")
    op.drop_table("rooms")
