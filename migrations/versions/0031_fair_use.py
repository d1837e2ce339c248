"""Fair use by role, why somebody may go beyond it, late cancelling, and places that nobody came to."""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
_ADDED = (
    ("lab", "free_after_minutes", sa.Integer(), None, "a place nobody came to is given free then; empty: never"),
    ("lab", "late_cancel_minutes", sa.Integer(), None, "cancelled later than so long before is late; empty: never"),
    ("bookings", "is_late_cancel", sa.Boolean(), sa.false(), "by its person, later than the lab asks"),
    ("bookings", "override_reason", sa.String(length=200), "", "why beyond fair use"),
    ("bookings", "missed_at", INSTANT, None, "nobody had come: given free"),
)


def upgrade() -> None:
    for table, name, kind, default, comment in _ADDED:
        column = sa.Column(name, kind, nullable=default is None, server_default=default, comment=comment)
        op.add_column(table, column)
    op.create_table(
        "fair_use",
        sa.Column("id", KEY, nullable=False),
        sa.Column("role", sa.String(length=40), nullable=False),
        sa.Column("furthest_days", sa.Integer(), nullable=False),
        sa.Column("notice_minutes", sa.Integer(), nullable=False),
        sa.Column("longest_minutes", sa.Integer(), nullable=False),
        sa.Column("most_open", sa.Integer(), nullable=True),
        sa.Column("week_minutes", sa.Integer(), nullable=True),
        sa.Column("may_overlap", sa.Boolean(), nullable=False),
        sa.CheckConstraint("furthest_days >= 1", name=op.f("ck_fair_use_furthest")),
        sa.CheckConstraint("notice_minutes >= 0", name=op.f("ck_fair_use_notice")),
        sa.CheckConstraint("longest_minutes >= 30 AND longest_minutes <= 1440", name=op.f("ck_fair_use_longest")),
        sa.CheckConstraint("most_open >= 1", name=op.f("ck_fair_use_most_open")),
        sa.CheckConstraint("week_minutes >= 30", name=op.f("ck_fair_use_week")),
        sa.PrimaryKeyConstraint("id", name="pk_fair_use"),
        sa.UniqueConstraint("role", name=op.f("uq_fair_use_role")),
    )


def downgrade() -> None:
    op.drop_table("fair_use")
    for table, name, *_ in reversed(_ADDED):
        op.drop_column(table, name)
