"""Whether the amounts of a batch are those of its plan, since nobody wrote down what was measured."""

import sqlalchemy as sa
from alembic import op

revision = "0040"
down_revision = "0039"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "batches",
        sa.Column(
            "is_as_planned",
            sa.Boolean(),
            nullable=False,
            server_default=sa.false(),
            comment="amounts of the plan: nobody wrote others",
        ),
    )


def downgrade() -> None:
    op.drop_column("batches", "is_as_planned")
