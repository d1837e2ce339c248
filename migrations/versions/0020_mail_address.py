"""A message may name the address it goes to, such as one that is no longer its person's."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "outgoing_mail",
        sa.Column(
            "address",
            sa.String(length=254),
            nullable=True,
            comment="where it goes; the person's own of the moment where there is none",
        ),
    )


def downgrade() -> None:
    op.drop_column("outgoing_mail", "address")
