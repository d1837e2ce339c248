"""The store: how long bottles keep, what is set apart, what was counted, and how bottles left. No reason was kept."""

import sqlalchemy as sa
from alembic import op

revision = "0063"
down_revision = "0062"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
OURS = "'handed over as not known'"
TABLES = (
    "bottles_left",
    "bottle_corrections",
    "stock_counts",
    "unlabelled_bottles",
    "bottle_quarantines",
    "shelf_lives",
)
CORRECTED = """
    INSERT INTO bottle_corrections (bottle_id, movement_id, difference, reason, note)
    SELECT bottles.id, postings.movement_id, postings.amount, 'from before reasons were kept', ''
    FROM postings
    JOIN movements ON movements.id = postings.movement_id
    JOIN bottles ON bottles.vessel_id = postings.vessel_id
    WHERE movements.what = 'level corrected'
"""


def _table(name: str, *columns: sa.Column, checks: dict[str, str], unique: tuple[str, ...] = (), **to: str) -> None:
    """A table with its checks, its unique columns, and what its columns point to."""
    op.create_table(
        name,
        sa.Column("id", ID, nullable=False),
        *columns,
        *(sa.CheckConstraint(rule, name=op.f(f"ck_{name}_{called}")) for called, rule in checks.items()),
        *(
            sa.ForeignKeyConstraint([column], [f"{table}.id"], name=op.f(f"fk_{name}_{column}"))
            for column, table in to.items()
        ),
        *(sa.UniqueConstraint(column, name=op.f(f"uq_{name}_{column}")) for column in unique),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
    )


def _column(name: str, kind: sa.types.TypeEngine, *, null: bool = False, comment: str | None = None) -> sa.Column:
    return sa.Column(name, kind, nullable=null, comment=comment)


def upgrade() -> None:
    op.execute("ALTER TABLE bottles ADD COLUMN lapses_on DATE")
    if op.get_bind().dialect.name == "postgresql":
        comment = "the last day it is good: by its date, and by how long its product keeps"
        op.execute(f"COMMENT ON COLUMN bottles.lapses_on IS '{comment}'")
    op.execute("UPDATE bottles SET lapses_on = expires_on")
    op.create_index("ix_bottles_lapses_on", "bottles", ["lapses_on"])
    _table(
        "shelf_lives",
        _column("product_id", ID),
        _column("unopened_days", sa.Integer(), null=True, comment="from when it was received"),
        _column("opened_days", sa.Integer(), null=True),
        _column("source", sa.String(200)),
        _column("stated_at", INSTANT),
        _column("stated_by_id", ID),
        checks={
            "days": "unopened_days > 0 AND opened_days > 0",
            "something": "unopened_days IS NOT NULL OR opened_days IS NOT NULL",
            "source": "source <> ''",
        },
        unique=("product_id",),
        product_id="products",
        stated_by_id="people",
    )
    _table(
        "bottle_quarantines",
        _column("bottle_id", ID),
        _column("reason", sa.String(400)),
        _column("started_at", INSTANT),
        _column("started_by_id", ID),
        _column("ended_at", INSTANT, null=True),
        _column("ended_by_id", ID, null=True),
        _column("ending", sa.String(40), null=True),
        _column("note", sa.String(400), comment="how it is known to be good"),
        checks={
            "reason": "reason <> ''",
            "ended": "(ended_at IS NULL) = (ending IS NULL) AND (ended_at IS NULL) = (ended_by_id IS NULL)",
            "cleared_by_another": "ending <> 'may be used again' OR (note <> '' AND ended_by_id <> started_by_id)",
        },
        bottle_id="bottles",
        started_by_id="people",
        ended_by_id="people",
    )
    _table(
        "unlabelled_bottles",
        _column("code", sa.String(20)),
        _column("looks", sa.String(400), comment="what can be seen from outside"),
        _column("place", sa.String(80), comment="where it was found"),
        _column("stands", sa.String(80), comment="where it was set apart"),
        _column("found_at", INSTANT),
        _column("recorded_at", INSTANT),
        _column("found_by_id", ID),
        _column("ended_at", INSTANT, null=True),
        _column("ended_by_id", ID, null=True),
        _column("ending", sa.String(40), null=True),
        _column("note", sa.String(400), comment="how it is known, or who took it"),
        _column("bottle_id", ID, null=True, comment="what it is"),
        checks={
            "looks": "looks <> ''",
            "ended": "(ended_at IS NULL) = (ending IS NULL) AND (ended_at IS NULL) = (ended_by_id IS NULL)",
            "ended_by_another": "ended_at IS NULL OR (note <> '' AND ended_by_id <> found_by_id)",
            "bottle": f"ending = {OURS} OR (ending IS NULL) = (bottle_id IS NULL)",
        },
        unique=("code",),
        found_by_id="people",
        ended_by_id="people",
        bottle_id="bottles",
    )
    _table(
        "stock_counts",
        _column("shelf_id", ID, null=True, comment="none: without a place"),
        _column("looked_at", sa.Integer(), comment="how many bottles"),
        _column("not_looked_at", sa.Integer(), comment="how many more stood there by the book"),
        _column("counted_at", INSTANT),
        _column("recorded_at", INSTANT),
        _column("counted_by_id", ID),
        checks={"bottles": "looked_at > 0 AND not_looked_at >= 0"},
        shelf_id="shelves",
        counted_by_id="people",
    )
    _table(
        "bottle_corrections",
        _column("bottle_id", ID),
        _column("movement_id", ID),
        _column("count_id", ID, null=True),
        _column("difference", sa.BigInteger(), comment="found less book, in the bottle's unit"),
        _column("reason", sa.String(40)),
        _column("note", sa.String(200)),
        checks={"difference": "difference <> 0"},
        unique=("movement_id",),
        bottle_id="bottles",
        movement_id="movements",
        count_id="stock_counts",
    )
    _table(
        "bottles_left",
        _column("bottle_id", ID),
        _column("movement_id", ID),
        _column("way", sa.String(40)),
        _column("amount", sa.BigInteger(), comment="in the bottle's unit"),
        _column("note", sa.String(200), comment="to whom, and why"),
        _column("left_at", INSTANT),
        _column("recorded_at", INSTANT),
        _column("recorded_by_id", ID),
        checks={"amount": "amount > 0", "note": "way IN ('into a waste container', 'down the drain') OR note <> ''"},
        unique=("movement_id",),
        bottle_id="bottles",
        movement_id="movements",
        recorded_by_id="people",
    )
    for table, columns in (
        ("bottle_quarantines", ("bottle_id",)),
        ("unlabelled_bottles", ("ended_at",)),
        ("stock_counts", ("shelf_id",)),
        ("bottle_corrections", ("bottle_id", "count_id")),
        ("bottles_left", ("bottle_id",)),
    ):
        for column in columns:
            op.create_index(f"ix_{table}_{column}", table, [column])
    op.execute(CORRECTED)


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)
    op.drop_index("ix_bottles_lapses_on", "bottles")
    op.execute("ALTER TABLE bottles DROP COLUMN lapses_on")
