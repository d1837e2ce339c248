"""A quarantine is ended by somebody who says why, whoever writes; what ended under an earlier rule stays as it is."""

from alembic import op

revision = "0048"
down_revision = "0047"
branch_labels = None
depends_on = None

NAME = "quarantines_released_by_somebody"
BY_NOBODY = (
    "NEW.released_at IS NOT NULL AND NEW.release_kind <> 'under an earlier rule' "
    "AND (NEW.released_by_id IS NULL OR NEW.release_note = '')"
)


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        action = f"WHEN {BY_NOBODY} BEGIN SELECT RAISE(ABORT, '{NAME}'); END"
    else:
        action = f"FOR EACH ROW WHEN ({BY_NOBODY}) EXECUTE FUNCTION labsys_refuse()"
    op.execute(f"CREATE TRIGGER {NAME} BEFORE UPDATE ON quarantines {action}")


def downgrade() -> None:
    op.execute(f"DROP TRIGGER {NAME}" + ("" if op.get_bind().dialect.name == "sqlite" else " ON quarantines"))
