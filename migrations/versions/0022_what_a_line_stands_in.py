"""What the baths of a line stand in is said when it is laid out; of older lines it was not asked."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "bath_lines",
        sa.Column(
            "holding",
            sa.String(length=40),
            nullable=True,
            comment="what its baths stand in, as said when it was laid out",
        ),
    )


def downgrade() -> None:
    op.drop_column("bath_lines", "holding")
