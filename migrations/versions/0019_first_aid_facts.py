"""What the first-aid card says of the lab: first aider, eyewash, spill kit, hospital, telephone, out of hours."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

FACTS = (
    ("first_aider", "who, and where to find them"),
    ("eyewash", "where the nearest is"),
    ("spill_kit", "where it is"),
    ("hospital", "with an emergency department"),
    ("telephone", "where it is, and its number"),
    ("out_of_hours", "whom to call then"),
)


def upgrade() -> None:
    for name, comment in FACTS:
        op.add_column("lab", sa.Column(name, sa.String(length=300), nullable=False, server_default="", comment=comment))


def downgrade() -> None:
    for name, _ in FACTS:
        op.drop_column("lab", name)
