"""Enrolled devices, cards and PINs."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "enrolled_devices",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("enrolled_at", INSTANT, nullable=False),
        sa.Column("enrolled_by_id", ID, nullable=False),
        sa.Column("revoked_at", INSTANT, nullable=True),
        sa.ForeignKeyConstraint(["enrolled_by_id"], ["people.id"], name="fk_enrolled_devices_enrolled_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_enrolled_devices"),
        sa.UniqueConstraint("token_digest", name="uq_enrolled_devices_token_digest"),
    )
    op.create_table(
        "cards",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("issued_at", INSTANT, nullable=False),
        sa.Column("valid_until", INSTANT, nullable=True),
        sa.Column("revoked_at", INSTANT, nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_cards_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_cards"),
        sa.UniqueConstraint("code", name="uq_cards_code"),
    )
    op.create_index("ix_cards_person_id", "cards", ["person_id"])
    op.create_table(
        "pins",
        sa.Column("person_id", ID, nullable=False),
        sa.Column("pin_hash", sa.String(length=200), nullable=False),
        sa.Column("chosen_at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_pins_person_id"),
        sa.PrimaryKeyConstraint("person_id", name="pk_pins"),
    )
    op.create_table(
        "wrong_tries",
        sa.Column("id", ID, nullable=False),
        sa.Column("device_id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=True),
        sa.Column("at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["device_id"], ["enrolled_devices.id"], name="fk_wrong_tries_device_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_wrong_tries_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_wrong_tries"),
    )
    op.create_index("ix_wrong_tries_device_id_at", "wrong_tries", ["device_id", "at"])
    op.create_index("ix_wrong_tries_person_id_at", "wrong_tries", ["person_id", "at"])


def downgrade() -> None:
    op.drop_table("wrong_tries")
    op.drop_table("pins")
    op.drop_table("cards")
    op.drop_table("enrolled_devices")
