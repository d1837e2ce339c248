"""Labels that wait to be printed."""

import sqlalchemy as sa
from alembic import op

revision = "0057"
down_revision = "0056"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "waiting_labels",
        sa.Column("id", ID, nullable=False),
        sa.Column("code", sa.String(20), nullable=False),
        sa.Column("waits_since", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["code"], ["codes.code"], name=op.f("fk_waiting_labels_code")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waiting_labels")),
        sa.UniqueConstraint("code", name=op.f("uq_waiting_labels_code")),
    )


def downgrade() -> None:
    op.drop_table("waiting_labels")
