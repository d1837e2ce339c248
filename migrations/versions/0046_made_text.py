"""Sentences that the house makes of names people typed have no longest length.

PostgreSQL refuses what is longer than a column says; SQLite never asked, so nothing changes there.
"""

from alembic import op

revision = "0046"
down_revision = "0045"
branch_labels = None
depends_on = None

MADE = (
    ("uses", "flag", 400),
    ("pours", "wrong_because", 400),
    ("discharges", "wrong_because", 400),
    ("quarantines", "reason", 400),
    ("quarantines", "advice", 600),
    ("quarantines", "gas", 160),
)


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table, column, _ in MADE:
            op.execute(f"ALTER TABLE {table} ALTER COLUMN {column} TYPE TEXT")


def downgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table, column, length in MADE:
            op.execute(
                f"ALTER TABLE {table} ALTER COLUMN {column} TYPE VARCHAR({length}) USING left({column}, {length})"
            )
