"""A container is what was poured into it, pours are corrected by new rows, and quarantine holds.

The database refuses to let a held container leave.
What earlier pours were is taken from the baths they came out of; of the others it is not known. Of earlier quarantines
it is not known what may come off, and those that were released were released with a note alone.
"""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")

POURS = (
    "kind VARCHAR(40)",
    "product_id {ID} CONSTRAINT fk_pours_product_id REFERENCES products (id) "
    "CONSTRAINT ck_pours_product_has_kind CHECK (product_id IS NULL OR kind IS NOT NULL)",
    "water_parts_milli BIGINT",
)
QUARANTINES = (
    "gas VARCHAR(160) NOT NULL DEFAULT 'not known'",
    "due_on DATE NOT NULL DEFAULT '2000-01-01'",
    "poured_by_id {ID} CONSTRAINT fk_quarantines_poured_by_id REFERENCES people (id) "
    "CONSTRAINT ck_quarantines_released_by_another CHECK (released_by_id <> poured_by_id)",
    "release_kind VARCHAR(40)",
    "release_code VARCHAR(9) NOT NULL DEFAULT ''",
    "release_components VARCHAR(400) NOT NULL DEFAULT ''",
    "release_properties VARCHAR(200) NOT NULL DEFAULT ''",
)
RELEASES_IN_FULL = (  # added last, once earlier releases say what they were
    "release_acceptance VARCHAR(200) NOT NULL DEFAULT '' "
    "CONSTRAINT ck_quarantines_release_kind CHECK ((released_at IS NULL) = (release_kind IS NULL)) "
    "CONSTRAINT ck_quarantines_restated_in_full CHECK (release_kind <> 'classified anew' OR (release_code <> '' "
    "AND release_components <> '' AND release_properties <> '' AND release_acceptance <> ''))"
)
COMMENTS = {
    "pours.kind": "none: not known",
    "pours.water_parts_milli": "of the product: N of 1+N, × 1000",
    "quarantines.gas": "that may come off; empty for none",
    "quarantines.due_on": "by when somebody decides",
    "quarantines.poured_by_id": "whose pour or finding began it; somebody else releases it",
    "quarantines.release_code": "List of Waste code it leaves under",
    "quarantines.release_components": "with their content",
    "quarantines.release_properties": "HP codes",
    "quarantines.release_acceptance": "the consignee''s, in writing: by whom, when, reference",
}
# In quarantine; or with something in it of which nobody knows what it was, and no release that says so.
HELD = """
  EXISTS (SELECT 1 FROM quarantines q WHERE q.container_id = {container} AND q.released_at IS NULL)
  OR (EXISTS (SELECT 1 FROM pours p WHERE p.container_id = {container} AND p.kind IS NULL
      AND NOT EXISTS (SELECT 1 FROM pour_corrections c WHERE c.pour_id = p.id))
    AND NOT EXISTS (SELECT 1 FROM quarantines q
      WHERE q.container_id = {container} AND q.release_kind = 'classified anew'))
"""
LEAVING = (  # by table: what happens, when it counts, and which container it is
    ("collection_lines", "INSERT", "", "NEW.container_id"),
    ("collection_lines", "UPDATE", "", "NEW.container_id"),
    ("waste_containers", "UPDATE", "NEW.collected_at IS NOT NULL AND OLD.collected_at IS NULL AND ", "NEW.id"),
)


def upgrade() -> None:
    _add("pours", POURS)
    op.create_index("ix_pours_product_id", "pours", ["product_id"])
    _fill_pours()
    _add("quarantines", QUARANTINES)
    _fill_quarantines()
    _add("quarantines", (RELEASES_IN_FULL,))
    if not _is_sqlite():
        for column, comment in COMMENTS.items():
            op.execute(f"COMMENT ON COLUMN {column} IS '{comment}'")
    op.create_table(
        "pour_corrections",
        sa.Column("id", ID, nullable=False),
        sa.Column("pour_id", ID, nullable=False, comment="what was wrong"),
        sa.Column("right_pour_id", ID, nullable=True, comment="what it really was; none: nothing was poured"),
        sa.Column("movement_id", ID, nullable=False, comment="that reversed it"),
        sa.Column("reason", sa.String(length=400), nullable=False),
        sa.Column("corrected_at", INSTANT, nullable=False),
        sa.Column("corrected_by_id", ID, nullable=False),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_pour_corrections_reason")),
        sa.CheckConstraint("right_pour_id <> pour_id", name=op.f("ck_pour_corrections_another_pour")),
        sa.ForeignKeyConstraint(["pour_id"], ["pours.id"], name="fk_pour_corrections_pour_id"),
        sa.ForeignKeyConstraint(["right_pour_id"], ["pours.id"], name="fk_pour_corrections_right_pour_id"),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_pour_corrections_movement_id"),
        sa.ForeignKeyConstraint(["corrected_by_id"], ["people.id"], name="fk_pour_corrections_corrected_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_pour_corrections"),
        sa.UniqueConstraint("pour_id", name="uq_pour_corrections_pour_id"),
        sa.UniqueConstraint("right_pour_id", name="uq_pour_corrections_right_pour_id"),
        sa.UniqueConstraint("movement_id", name="uq_pour_corrections_movement_id"),
    )
    op.add_column(
        "lab",
        sa.Column(
            "carry_over_milli",
            sa.Integer(),
            nullable=False,
            server_default="10",
            comment="share of what a container holds that is trivial when poured in wrongly, × 1000",
        ),
    )
    hold()


def downgrade() -> None:
    let_go()
    op.drop_column("lab", "carry_over_milli")
    op.drop_table("pour_corrections")
    for column in reversed((*QUARANTINES, RELEASES_IN_FULL)):
        op.drop_column("quarantines", column.split()[0])
    op.drop_index("ix_pours_product_id", "pours")
    for column in reversed(POURS):
        op.drop_column("pours", column.split()[0])


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _add(table: str, columns: tuple[str, ...]) -> None:
    """In the database's own words: so a constraint comes with its column, on SQLite too."""
    for column in columns:
        op.execute(f"ALTER TABLE {table} ADD COLUMN {column.format(ID='INTEGER' if _is_sqlite() else 'BIGINT')}")


def _fill_pours() -> None:
    for column, source in (
        ("kind", "r.kind"),
        ("product_id", "b.product_id"),
        ("water_parts_milli", "b.water_parts_milli"),
    ):
        op.execute(
            f"""UPDATE pours SET {column} = (SELECT {source} FROM postings p JOIN baths b ON b.vessel_id = p.vessel_id
            JOIN products r ON r.id = b.product_id WHERE p.movement_id = pours.movement_id)"""  # noqa: S608 - our words
        )


def _fill_quarantines() -> None:
    due = "date(started_at, '+7 days')" if _is_sqlite() else "(started_at + INTERVAL '7 days')::date"
    op.execute(f"UPDATE quarantines SET due_on = {due}")  # noqa: S608 - our own words
    op.execute("UPDATE quarantines SET release_kind = 'under an earlier rule' WHERE released_at IS NOT NULL")
    op.execute(
        """UPDATE quarantines SET poured_by_id = (SELECT min(p.recorded_by_id) FROM pours p
        WHERE p.container_id = quarantines.container_id AND p.poured_at = quarantines.started_at
        AND p.wrong_because <> '') WHERE released_at IS NULL"""
    )


def hold(held: str = HELD) -> None:
    """Let nothing leave that is held, whoever writes."""
    if not _is_sqlite():
        body = held.format(container="$1")
        op.execute(f"CREATE FUNCTION labsys_is_held(bigint) RETURNS boolean LANGUAGE sql STABLE AS $$ SELECT {body} $$")
    for table, verb, when, container in LEAVING:
        name = f"{table}_held_{verb.lower()}"
        if _is_sqlite():
            condition = f"{when}({held.format(container=container)})"
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table} WHEN {condition} "
                f"BEGIN SELECT RAISE(ABORT, '{name}'); END"
            )
        else:
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {verb} ON {table} FOR EACH ROW "
                f"WHEN ({when}labsys_is_held({container})) EXECUTE FUNCTION labsys_refuse()"
            )


def let_go() -> None:
    for table, verb, _, _ in LEAVING:
        on = "" if _is_sqlite() else f" ON {table}"
        op.execute(f"DROP TRIGGER {table}_held_{verb.lower()}{on}")
    if not _is_sqlite():
        op.execute("DROP FUNCTION labsys_is_held(bigint)")
