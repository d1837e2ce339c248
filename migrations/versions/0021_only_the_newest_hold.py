"""On SQLite, whether a hold overlaps another is asked of one earlier hold, not of all that a unit has ever had.

Holds of a unit do not overlap, so of those that begin before a new one ends, the last to begin is also the last to end.
PostgreSQL has its exclusion constraint.
"""

from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None

_ONE = """WHEN NEW.starts_at < (
      SELECT ends_at FROM holds
      WHERE unit_id = NEW.unit_id AND id IS NOT NEW.id AND starts_at < NEW.ends_at
      ORDER BY starts_at DESC LIMIT 1)
    BEGIN SELECT RAISE(ABORT, 'holds_no_overlap'); END"""
_ALL = """WHEN EXISTS (
      SELECT 1 FROM holds
      WHERE unit_id = NEW.unit_id AND id IS NOT NEW.id AND starts_at < NEW.ends_at AND NEW.starts_at < ends_at)
    BEGIN SELECT RAISE(ABORT, 'holds_no_overlap'); END"""


def upgrade() -> None:
    _look_at(_ONE)


def downgrade() -> None:
    _look_at(_ALL)


def _look_at(overlaps: str) -> None:
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("insert", "update"):
            op.execute(f"DROP TRIGGER holds_no_overlap_{verb}")
            op.execute(f"CREATE TRIGGER holds_no_overlap_{verb} BEFORE {verb.upper()} ON holds {overlaps}")
