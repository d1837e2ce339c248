"""No quarantine, pour, discharge or sewer consent is ever taken out; a quarantine stays with its container.

Whoever poured does not release, so whose pour it was stays too.
"""

from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None

NEVER_TAKEN_OUT = ("quarantines", "pours", "discharges", "sewer_consents")
FIXED = "UPDATE OF container_id, poured_by_id ON quarantines"


def upgrade() -> None:
    if _is_sqlite():
        for table in NEVER_TAKEN_OUT:
            _refuse(f"DELETE ON {table}", name=f"{table}_no_delete")
        _refuse(
            f"{FIXED} WHEN OLD.container_id IS NOT NEW.container_id OR OLD.poured_by_id IS NOT NEW.poured_by_id",
            name="quarantines_no_update",
        )
        return
    for table in NEVER_TAKEN_OUT:
        _refuse(f"DELETE ON {table} FOR EACH ROW", name=f"{table}_no_delete")
        _refuse(f"TRUNCATE ON {table} FOR EACH STATEMENT", name=f"{table}_no_truncate")
    _refuse(
        f"{FIXED} FOR EACH ROW WHEN ((OLD.container_id, OLD.poured_by_id) "
        "IS DISTINCT FROM (NEW.container_id, NEW.poured_by_id))",
        name="quarantines_no_update",
    )


def downgrade() -> None:
    verbs = ("delete",) if _is_sqlite() else ("delete", "truncate")
    for table in NEVER_TAKEN_OUT:
        for verb in verbs:
            _drop(f"{table}_no_{verb}", table)
    _drop("quarantines_no_update", "quarantines")


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _refuse(when: str, *, name: str) -> None:
    action = f"BEGIN SELECT RAISE(ABORT, '{name}'); END" if _is_sqlite() else "EXECUTE FUNCTION labsys_refuse()"
    op.execute(f"CREATE TRIGGER {name} BEFORE {when} {action}")


def _drop(name: str, table: str) -> None:
    op.execute(f"DROP TRIGGER {name}" if _is_sqlite() else f"DROP TRIGGER {name} ON {table}")
