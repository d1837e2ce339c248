"""What was poured, discharged and collected stays as it was recorded, whoever writes; and when a container was empty.

A correction is a row of its own. A consent only ever ends sooner, and a container that has left does not come back.
"""

import sqlalchemy as sa
from alembic import op

revision = "0050"
down_revision = "0049"
branch_labels = None
depends_on = None

INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
KEPT = (
    "collections",
    "collection_lines",
    "waste_containers",
    "pour_corrections",
    "discharge_answers",
    "sewer_consent_names",
)
FIXED = ("pours", "discharges", "collections", "collection_lines", "discharge_answers", "sewer_consent_names")
CHANGES = {
    "pour_corrections": "OLD.right_pour_id IS NOT NULL OR NEW.pour_id <> OLD.pour_id OR NEW.reason <> OLD.reason "
    "OR NEW.movement_id <> OLD.movement_id OR NEW.corrected_by_id <> OLD.corrected_by_id",
    "waste_containers": "OLD.collected_at IS NOT NULL OR NEW.stream_id <> OLD.stream_id "
    "OR NEW.vessel_id <> OLD.vessel_id OR NEW.opened_at <> OLD.opened_at",
    "sewer_consents": "NEW.valid_until > OLD.valid_until OR NEW.reference <> OLD.reference "
    "OR NEW.issued_by <> OLD.issued_by OR COALESCE(NEW.most_ul_a_day, 0) <> COALESCE(OLD.most_ul_a_day, 0) "
    "OR (NEW.valid_from <> OLD.valid_from AND NEW.valid_from <> NEW.valid_until)",
}
NOT_EMPTY = "EXISTS (SELECT 1 FROM vessels v WHERE v.id = {vessel} AND v.level <> 0)"
ONLY_WHEN_EMPTY = "waste_containers_found_empty"


def upgrade() -> None:
    op.add_column(
        "waste_containers",
        sa.Column("found_empty_at", INSTANT, nullable=True, comment="recorded: its level set to nothing"),
    )
    for table in KEPT:
        _refuse(f"DELETE ON {table}", name=f"{table}_no_delete")
        if not _is_sqlite():
            _refuse(f"TRUNCATE ON {table}", name=f"{table}_no_truncate", each="STATEMENT")
    for table in FIXED:
        _refuse(f"UPDATE ON {table}", name=f"{table}_no_update")
    for table, change in CHANGES.items():
        _refuse(f"UPDATE ON {table}", name=f"{table}_no_update", when=change)
    _refuse("UPDATE OF found_empty_at ON waste_containers", name=ONLY_WHEN_EMPTY, when=_when_not_empty())


def downgrade() -> None:
    _drop(ONLY_WHEN_EMPTY, "waste_containers")
    for table in (*FIXED, *CHANGES):
        _drop(f"{table}_no_update", table)
    for table in KEPT:
        for verb in ("delete",) if _is_sqlite() else ("delete", "truncate"):
            _drop(f"{table}_no_{verb}", table)
    if not _is_sqlite():
        op.execute("DROP FUNCTION labsys_is_not_empty(bigint)")
    op.drop_column("waste_containers", "found_empty_at")


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _when_not_empty() -> str:
    """A condition on the vessel of a container; PostgreSQL asks other tables through a function only."""
    if _is_sqlite():
        return f"NEW.found_empty_at IS NOT NULL AND {NOT_EMPTY.format(vessel='NEW.vessel_id')}"
    body = NOT_EMPTY.format(vessel="$1")
    op.execute(
        f"CREATE FUNCTION labsys_is_not_empty(bigint) RETURNS boolean LANGUAGE sql STABLE AS $$ SELECT {body} $$"
    )
    return "NEW.found_empty_at IS NOT NULL AND labsys_is_not_empty(NEW.vessel_id)"


def _refuse(event: str, *, name: str, when: str = "", each: str = "ROW") -> None:
    if _is_sqlite():
        condition = f"WHEN {when}" if when else ""
        action = f"{condition} BEGIN SELECT RAISE(ABORT, '{name}'); END"
    else:
        condition = f"WHEN ({when})" if when else ""
        action = f"FOR EACH {each} {condition} EXECUTE FUNCTION labsys_refuse()"
    op.execute(f"CREATE TRIGGER {name} BEFORE {event} {action}")


def _drop(name: str, table: str) -> None:
    op.execute(f"DROP TRIGGER {name}" if _is_sqlite() else f"DROP TRIGGER {name} ON {table}")
