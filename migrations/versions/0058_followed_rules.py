"""Rules about amounts that a lab says it comes under."""

import sqlalchemy as sa
from alembic import op

revision = "0058"
down_revision = "0057"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "followed_rules",
        sa.Column("id", ID, nullable=False),
        sa.Column("rule", sa.String(40), nullable=False, comment="key of a row of the table of amount rules"),
        sa.Column("said_at", INSTANT, nullable=False),
        sa.Column("said_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["said_by_id"], ["people.id"], name=op.f("fk_followed_rules_said_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_followed_rules")),
        sa.UniqueConstraint("rule", name=op.f("uq_followed_rules_rule")),
    )


def downgrade() -> None:
    op.drop_table("followed_rules")
