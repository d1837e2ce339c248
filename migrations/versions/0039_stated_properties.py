"""A container leaves with hazardous properties that are known, worked out or stated by somebody; and what holds it.

The database asks as the acts do: a wrong pour that no release has answered holds its container, and so does one of
which only the kind is known, until somebody states what it is; and no container goes without a line of its collection
that says with which properties.
What earlier containers left with was not kept.
"""

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0038"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
TABLE = "stated_properties"

COUNTS = "NOT EXISTS (SELECT 1 FROM pour_corrections c WHERE c.pour_id = p.id)"
# As in 0027: in quarantine; or with something in it of which nobody knows what it was, and no release that says so.
HELD_BEFORE = f"""
  EXISTS (SELECT 1 FROM quarantines q WHERE q.container_id = {{container}} AND q.released_at IS NULL)
  OR (EXISTS (SELECT 1 FROM pours p WHERE p.container_id = {{container}} AND p.kind IS NULL AND {COUNTS})
    AND NOT EXISTS (SELECT 1 FROM quarantines q
      WHERE q.container_id = {{container}} AND q.release_kind = 'classified anew'))
"""  # noqa: S608 - our own words
WRONG = f"""
  EXISTS (SELECT 1 FROM pours p WHERE p.container_id = {{container}} AND p.wrong_because <> '' AND {COUNTS}
    AND NOT EXISTS (SELECT 1 FROM quarantines q WHERE q.container_id = p.container_id
      AND q.released_at >= p.recorded_at
      AND (q.recorded_at <= p.recorded_at OR q.release_kind = 'classified anew')))
"""  # noqa: S608 - our own words
NOT_STATED = f"""
  (EXISTS (SELECT 1 FROM pours p WHERE p.container_id = {{container}} AND p.product_id IS NULL
      AND p.kind <> 'rinse' AND {COUNTS})
    AND NOT EXISTS (SELECT 1 FROM quarantines q
      WHERE q.container_id = {{container}} AND q.release_kind = 'classified anew')
    AND NOT EXISTS (SELECT 1 FROM stated_properties s WHERE s.container_id = {{container}}
      AND s.pour_id = (SELECT max(p.id) FROM pours p WHERE p.container_id = s.container_id AND {COUNTS})
      AND s.poured_ul = (SELECT sum(p.volume_ul) FROM pours p WHERE p.container_id = s.container_id AND {COUNTS})))
"""  # noqa: S608 - our own words
HELD = " OR ".join((HELD_BEFORE, WRONG, NOT_STATED))
LEAVING = (  # by table: what happens, when it counts, and which container it is
    ("collection_lines", "INSERT", "", "NEW.container_id"),
    ("collection_lines", "UPDATE", "", "NEW.container_id"),
    ("waste_containers", "UPDATE", "NEW.collected_at IS NOT NULL AND OLD.collected_at IS NULL AND ", "NEW.id"),
)
WITHOUT_LINE = """
  NEW.collected_at IS NOT NULL AND OLD.collected_at IS NULL AND {no_line}
"""
NO_LINE = "NOT EXISTS (SELECT 1 FROM collection_lines l WHERE l.container_id = {container} AND l.properties <> '')"
STANDS = "stated_properties_no_"


def upgrade() -> None:
    op.create_table(
        TABLE,
        sa.Column("id", ID, nullable=False),
        sa.Column("container_id", ID, nullable=False),
        sa.Column("properties", sa.String(length=200), nullable=False, comment='HP codes, or "none"'),
        sa.Column("reason", sa.String(length=400), nullable=False),
        sa.Column("pour_id", ID, nullable=False, comment="the newest that counted then"),
        sa.Column("poured_ul", sa.BigInteger(), nullable=False, comment="all that counted then"),
        sa.Column("stated_at", INSTANT, nullable=False),
        sa.Column("stated_by_id", ID, nullable=False),
        sa.CheckConstraint("properties <> ''", name=op.f("ck_stated_properties_properties")),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_stated_properties_reason")),
        sa.ForeignKeyConstraint(["container_id"], ["waste_containers.id"], name="fk_stated_properties_container_id"),
        sa.ForeignKeyConstraint(["pour_id"], ["pours.id"], name="fk_stated_properties_pour_id"),
        sa.ForeignKeyConstraint(["stated_by_id"], ["people.id"], name="fk_stated_properties_stated_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_stated_properties"),
    )
    op.create_index("ix_stated_properties_container_id", TABLE, ["container_id"])
    op.add_column(
        "collection_lines",
        sa.Column(
            "properties",
            sa.String(length=200),
            nullable=True,
            comment="HP codes it left with; none: from before they were kept",
        ),
    )
    _let_go()
    _hold(HELD)
    _refuse_without_line()
    for verb in ("UPDATE", "DELETE"):
        each = "" if _is_sqlite() else " FOR EACH ROW"
        _refuse(f"{verb} ON {TABLE}{each}", name=f"{STANDS}{verb.lower()}")
    if not _is_sqlite():
        _refuse(f"TRUNCATE ON {TABLE} FOR EACH STATEMENT", name=f"{STANDS}truncate")


def downgrade() -> None:
    _drop("waste_containers_held_without_line", "waste_containers")
    if not _is_sqlite():
        op.execute("DROP FUNCTION labsys_left_without_line(bigint)")
    _let_go()
    op.drop_column("collection_lines", "properties")
    op.drop_table(TABLE)
    _hold(HELD_BEFORE)


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _hold(held: str) -> None:
    """Let nothing leave that is held, whoever writes."""
    if not _is_sqlite():
        _ask("labsys_is_held", held)
    for table, verb, when, container in LEAVING:
        condition = f"({held.format(container=container)})" if _is_sqlite() else f"labsys_is_held({container})"
        _refuse_when(f"{verb} ON {table}", f"{when}{condition}", name=f"{table}_held_{verb.lower()}")


def _let_go() -> None:
    for table, verb, _, _ in LEAVING:
        _drop(f"{table}_held_{verb.lower()}", table)
    if not _is_sqlite():
        op.execute("DROP FUNCTION labsys_is_held(bigint)")


def _refuse_without_line() -> None:
    if not _is_sqlite():
        _ask("labsys_left_without_line", NO_LINE)
    no_line = NO_LINE.format(container="NEW.id") if _is_sqlite() else "labsys_left_without_line(NEW.id)"
    _refuse_when(
        "UPDATE ON waste_containers",
        WITHOUT_LINE.format(no_line=no_line).strip(),
        name="waste_containers_held_without_line",
    )


def _ask(name: str, question: str) -> None:
    body = question.format(container="$1")
    op.execute(f"CREATE FUNCTION {name}(bigint) RETURNS boolean LANGUAGE sql STABLE AS $$ SELECT {body} $$")


def _refuse_when(event: str, condition: str, *, name: str) -> None:
    when = f"WHEN {condition}" if _is_sqlite() else f"FOR EACH ROW WHEN ({condition})"
    _refuse(f"{event} {when}", name=name)


def _refuse(event: str, *, name: str) -> None:
    action = f"BEGIN SELECT RAISE(ABORT, '{name}'); END" if _is_sqlite() else "EXECUTE FUNCTION labsys_refuse()"
    op.execute(f"CREATE TRIGGER {name} BEFORE {event} {action}")


def _drop(name: str, table: str) -> None:
    op.execute(f"DROP TRIGGER {name}" if _is_sqlite() else f"DROP TRIGGER {name} ON {table}")
