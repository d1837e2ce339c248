"""What a sewer consent limits is a row with its figures, and what was measured of a discharge is kept against it.

What earlier consents limited is a text: it stays as a condition in words, which whoever discharges says is kept to.
"""

import sqlalchemy as sa
from alembic import op

revision = "0042"
down_revision = "0041"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
FIXED = ("sewer_limits", "discharge_readings")
# Recorded as let go under a consent, with what breaks a limit of that consent, or was not measured against it.
BREAKS = """EXISTS (SELECT 1 FROM discharges d JOIN sewer_limits l ON l.id = {limit} WHERE d.id = {discharge}
  AND d.consent_id = l.consent_id AND CASE WHEN l.low_milli IS NULL AND l.high_milli IS NULL
    THEN {kept} IS NOT TRUE ELSE {value} IS NULL OR {value} < l.low_milli OR {value} > l.high_milli END)"""
KEEPS = "discharge_readings_within_limit"


def upgrade() -> None:
    op.create_table(
        "sewer_limits",
        sa.Column("id", ID, nullable=False),
        sa.Column("consent_id", ID, nullable=False),
        sa.Column("quantity", sa.String(length=400), nullable=False, comment="pH, silver; or a condition in words"),
        sa.Column("unit", sa.String(length=20), nullable=False, comment="empty for pH"),
        sa.Column("low_milli", sa.BigInteger(), nullable=True, comment="at least, × 1000"),
        sa.Column("high_milli", sa.BigInteger(), nullable=True, comment="at most, × 1000"),
        sa.CheckConstraint("quantity <> ''", name=op.f("ck_sewer_limits_quantity")),
        sa.CheckConstraint("low_milli <= high_milli", name=op.f("ck_sewer_limits_low_to_high")),
        sa.ForeignKeyConstraint(["consent_id"], ["sewer_consents.id"], name="fk_sewer_limits_consent_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sewer_limits"),
    )
    op.create_index("ix_sewer_limits_consent_id", "sewer_limits", ["consent_id"])
    op.create_table(
        "discharge_readings",
        sa.Column("id", ID, nullable=False),
        sa.Column("discharge_id", ID, nullable=False),
        sa.Column("limit_id", ID, nullable=False),
        sa.Column("value_milli", sa.BigInteger(), nullable=True, comment="measured, × 1000"),
        sa.Column("is_kept", sa.Boolean(), nullable=True, comment="of a condition in words"),
        sa.CheckConstraint("value_milli IS NULL OR is_kept IS NULL", name=op.f("ck_discharge_readings_one_of_two")),
        sa.ForeignKeyConstraint(["discharge_id"], ["discharges.id"], name="fk_discharge_readings_discharge_id"),
        sa.ForeignKeyConstraint(["limit_id"], ["sewer_limits.id"], name="fk_discharge_readings_limit_id"),
        sa.PrimaryKeyConstraint("id", name="pk_discharge_readings"),
        sa.UniqueConstraint("discharge_id", "limit_id", name="uq_discharge_readings_discharge_id_limit_id"),
    )
    op.create_index("ix_discharge_readings_limit_id", "discharge_readings", ["limit_id"])
    op.execute(
        "INSERT INTO sewer_limits (consent_id, quantity, unit) "
        "SELECT id, limits, '' FROM sewer_consents WHERE limits <> ''"
    )
    op.drop_column("sewer_consents", "limits")
    for table in FIXED:
        for verb in _verbs():
            _refuse(table, verb)
    _refuse_what_breaks()


def downgrade() -> None:
    op.add_column(
        "sewer_consents",
        sa.Column(
            "limits", sa.String(length=400), nullable=False, server_default="", comment="as the consent puts them"
        ),
    )
    every = "group_concat(quantity, ', ')" if _is_sqlite() else "string_agg(quantity, ', ')"
    op.execute(
        f"UPDATE sewer_consents SET limits = COALESCE((SELECT substr({every}, 1, 400) FROM sewer_limits "  # noqa: S608
        "WHERE consent_id = sewer_consents.id), '')"
    )
    for table in reversed(FIXED):
        op.drop_table(table)
    if not _is_sqlite():
        op.execute("DROP FUNCTION labsys_breaks_limit(bigint, bigint, bigint, boolean)")


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _verbs() -> tuple[str, ...]:
    return ("UPDATE", "DELETE") if _is_sqlite() else ("UPDATE", "DELETE", "TRUNCATE")


def _refuse_what_breaks() -> None:
    new = {"discharge": "NEW.discharge_id", "limit": "NEW.limit_id", "value": "NEW.value_milli", "kept": "NEW.is_kept"}
    event = f"CREATE TRIGGER {KEEPS} BEFORE INSERT ON discharge_readings"
    if _is_sqlite():
        op.execute(f"{event} WHEN {BREAKS.format(**new)} BEGIN SELECT RAISE(ABORT, '{KEEPS}'); END")
        return
    body = BREAKS.format(discharge="$1", limit="$2", value="$3", kept="$4")
    op.execute(
        "CREATE FUNCTION labsys_breaks_limit(bigint, bigint, bigint, boolean) RETURNS boolean LANGUAGE sql STABLE "
        f"AS $$ SELECT {body} $$"
    )
    op.execute(
        f"{event} FOR EACH ROW WHEN (labsys_breaks_limit({', '.join(new.values())})) EXECUTE FUNCTION labsys_refuse()"
    )


def _refuse(table: str, verb: str) -> None:
    name = f"{table}_no_{verb.lower()}"
    if _is_sqlite():
        op.execute(f"CREATE TRIGGER {name} BEFORE {verb} ON {table} BEGIN SELECT RAISE(ABORT, '{name}'); END")
    else:
        each = "STATEMENT" if verb == "TRUNCATE" else "ROW"
        op.execute(f"CREATE TRIGGER {name} BEFORE {verb} ON {table} FOR EACH {each} EXECUTE FUNCTION labsys_refuse()")
