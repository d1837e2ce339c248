"""Every change of a product raises its edition; only one that bears on hazards raises its version."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("products", sa.Column("edition", sa.Integer(), nullable=False, server_default="1"))
    op.execute("UPDATE products SET edition = version")


def downgrade() -> None:
    op.drop_column("products", "edition")
