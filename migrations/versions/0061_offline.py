"""What was entered without a network and waits for somebody; late uses, whose bath was dumped meanwhile."""

import sqlalchemy as sa
from alembic import op

revision = "0061"
down_revision = "0060"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
MADE = sa.String(400).with_variant(sa.Text(), "postgresql")


def upgrade() -> None:
    op.create_table(
        "late_uses",
        sa.Column("id", ID, nullable=False),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False, comment="whose work, or who taught the class"),
        sa.Column("class_name", sa.String(80), nullable=False),
        sa.Column("size", sa.String(20), nullable=False),
        sa.Column("material", sa.String(40), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("used_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.Column("settled_at", INSTANT, nullable=True),
        sa.Column("settled_by_id", ID, nullable=True),
        sa.Column("use_id", ID, nullable=True, comment="the use it became"),
        sa.Column("refused_because", sa.String(300), nullable=False),
        sa.CheckConstraint("count > 0", name=op.f("ck_late_uses_count")),
        sa.CheckConstraint(
            "(settled_at IS NULL) = (settled_by_id IS NULL)", name=op.f("ck_late_uses_settled_by_somebody")
        ),
        sa.CheckConstraint(
            "CASE WHEN settled_at IS NULL THEN use_id IS NULL AND refused_because = '' "
            "ELSE (use_id IS NULL) <> (refused_because = '') END",
            name=op.f("ck_late_uses_accepted_or_refused"),
        ),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name=op.f("fk_late_uses_line_id")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_late_uses_person_id")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name=op.f("fk_late_uses_recorded_by_id")),
        sa.ForeignKeyConstraint(["settled_by_id"], ["people.id"], name=op.f("fk_late_uses_settled_by_id")),
        sa.ForeignKeyConstraint(["use_id"], ["uses.id"], name=op.f("fk_late_uses_use_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_late_uses")),
        sa.UniqueConstraint("use_id", name=op.f("uq_late_uses_use_id")),
    )
    op.create_index("ix_late_uses_settled_at", "late_uses", ["settled_at"])
    op.create_table(
        "kept_entries",
        sa.Column("id", ID, nullable=False),
        sa.Column("key", sa.String(36), nullable=False, comment="its submission key"),
        sa.Column("device_id", ID, nullable=True, comment="the tablet it is from"),
        sa.Column("person_id", ID, nullable=True, comment="whose it is, as far as is known"),
        sa.Column("claimed", sa.String(300), nullable=False, comment="who they said they were"),
        sa.Column("path", sa.String(200), nullable=False, comment="where its form is sent"),
        sa.Column("typed", sa.Text(), nullable=False, comment="JSON: pairs of a field's name and what was typed"),
        sa.Column("said", MADE, nullable=False, comment="what it is, in words, with nobody's health in them"),
        sa.Column("happened_at", INSTANT, nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("state", sa.String(40), nullable=False),
        sa.Column("why", MADE, nullable=False, comment="why it could not be taken over"),
        sa.Column("came_to", MADE, nullable=False, comment="what became of it"),
        sa.Column("settled_at", INSTANT, nullable=True),
        sa.Column("settled_by_id", ID, nullable=True),
        sa.CheckConstraint(
            "state <> 'not confirmed' OR person_id IS NOT NULL", name=op.f("ck_kept_entries_confirmed_by_somebody")
        ),
        sa.CheckConstraint("(state = 'settled') = (settled_at IS NOT NULL)", name=op.f("ck_kept_entries_settled")),
        sa.CheckConstraint(
            "settled_at IS NULL OR (settled_by_id IS NOT NULL AND came_to <> '' AND typed = '')",
            name=op.f("ck_kept_entries_came_to"),
        ),
        sa.ForeignKeyConstraint(["device_id"], ["enrolled_devices.id"], name=op.f("fk_kept_entries_device_id")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_kept_entries_person_id")),
        sa.ForeignKeyConstraint(["settled_by_id"], ["people.id"], name=op.f("fk_kept_entries_settled_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_entries")),
        sa.UniqueConstraint("key", name=op.f("uq_kept_entries_key")),
    )
    op.create_index("ix_kept_entries_state_person_id", "kept_entries", ["state", "person_id"])


def downgrade() -> None:
    op.drop_table("kept_entries")
    op.drop_table("late_uses")
