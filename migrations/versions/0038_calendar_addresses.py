"""Secret addresses by which calendar programs read; and when a booking was last changed."""

import sqlalchemy as sa
from alembic import op

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.add_column(
        "bookings", sa.Column("changed_at", INSTANT, nullable=True, comment="last; empty: stands as it was made")
    )
    op.create_table(
        "calendar_addresses",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False, comment="who made it, and sees so much"),
        sa.Column("room_id", ID, nullable=True),
        sa.Column("course_id", ID, nullable=True),
        sa.Column("token_digest", sa.String(64), nullable=False, comment="SHA-256 of the secret part"),
        sa.Column(
            "session_version",
            sa.Integer(),
            nullable=False,
            comment="of its person then: it ends with their open sessions",
        ),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("ended_at", INSTANT, nullable=True),
        sa.CheckConstraint("room_id IS NULL OR course_id IS NULL", name=op.f("ck_calendar_addresses_one_calendar")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_calendar_addresses_person_id")),
        sa.ForeignKeyConstraint(["room_id"], ["rooms.id"], name=op.f("fk_calendar_addresses_room_id")),
        sa.ForeignKeyConstraint(["course_id"], ["courses.id"], name=op.f("fk_calendar_addresses_course_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_addresses")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_calendar_addresses_token_digest")),
    )
    op.create_index("ix_calendar_addresses_person_id", "calendar_addresses", ["person_id"])


def downgrade() -> None:
    op.drop_table("calendar_addresses")
    op.drop_column("bookings", "changed_at")
