"""What went through the baths in a period is found by its time."""

from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_uses_used_at", "uses", ["used_at"])


def downgrade() -> None:
    op.drop_index("ix_uses_used_at", table_name="uses")
