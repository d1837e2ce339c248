"""A room may keep its own hours, a day may have others, and a room, a place or one unit may be closed for a time.

Units can be taken away; what stood on them stays on file.
"""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")

_SCOPES = ("room", "station", "unit")
_OF_SCOPE = {"room": "rooms", "station": "stations", "unit": "station_units"}
_MINUTES = "opens_minute >= 0 AND opens_minute < closes_minute AND closes_minute <= 1440"
_ONE_SCOPE = (
    "(room_id IS NULL OR station_id IS NULL) AND (room_id IS NULL OR unit_id IS NULL)"
    " AND (station_id IS NULL OR unit_id IS NULL)"
)


def upgrade() -> None:
    op.add_column(
        "station_units",
        sa.Column("removed_at", INSTANT, nullable=True, comment="taken away; kept for what stood on it"),
    )
    with op.batch_alter_table("opening_hours") as table:
        table.add_column(sa.Column("room_id", KEY, nullable=True, comment="empty: the lab"))
        table.create_foreign_key(op.f("fk_opening_hours_room_id"), "rooms", ["room_id"], ["id"])
        table.drop_constraint("uq_opening_hours_weekday_opens_minute", type_="unique")
        table.create_unique_constraint(
            op.f("uq_opening_hours_room_id_weekday_opens_minute"), ["room_id", "weekday", "opens_minute"]
        )
    op.create_table(
        "special_hours",
        sa.Column("id", KEY, nullable=False),
        sa.Column("room_id", KEY, nullable=True, comment="empty: the lab"),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("opens_minute", sa.Integer(), nullable=False),
        sa.Column("closes_minute", sa.Integer(), nullable=False),
        sa.CheckConstraint(_MINUTES, name=op.f("ck_special_hours_minutes")),
        sa.ForeignKeyConstraint(["room_id"], ["rooms.id"], name="fk_special_hours_room_id"),
        sa.PrimaryKeyConstraint("id", name="pk_special_hours"),
        sa.UniqueConstraint("room_id", "day", "opens_minute", name=op.f("uq_special_hours_room_id_day_opens_minute")),
    )
    op.create_index(op.f("ix_special_hours_day"), "special_hours", ["day"])
    with op.batch_alter_table("closures") as table:
        for scope in _SCOPES:
            table.add_column(sa.Column(f"{scope}_id", KEY, nullable=True))
            table.create_foreign_key(op.f(f"fk_closures_{scope}_id"), _OF_SCOPE[scope], [f"{scope}_id"], ["id"])
        table.create_check_constraint(op.f("ck_closures_one_scope"), _ONE_SCOPE)


def downgrade() -> None:
    op.execute("DELETE FROM closures WHERE room_id IS NOT NULL OR station_id IS NOT NULL OR unit_id IS NOT NULL")
    with op.batch_alter_table("closures") as table:
        table.drop_constraint(op.f("ck_closures_one_scope"), type_="check")
        for scope in _SCOPES:
            table.drop_constraint(f"fk_closures_{scope}_id", type_="foreignkey")
            table.drop_column(f"{scope}_id")
    op.drop_table("special_hours")
    op.execute("DELETE FROM opening_hours WHERE room_id IS NOT NULL")
    with op.batch_alter_table("opening_hours") as table:
        table.drop_constraint("uq_opening_hours_room_id_weekday_opens_minute", type_="unique")
        table.drop_constraint("fk_opening_hours_room_id", type_="foreignkey")
        table.drop_column("room_id")
        table.create_unique_constraint(op.f("uq_opening_hours_weekday_opens_minute"), ["weekday", "opens_minute"])
    op.drop_column("station_units", "removed_at")
