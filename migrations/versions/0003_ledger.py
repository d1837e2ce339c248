"""The ledger: vessels, movements and postings."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)

APPEND_ONLY = ("movements", "postings")


def upgrade() -> None:
    op.create_table(
        "vessels",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("unit", WORD, nullable=False),
        sa.Column("capacity", sa.BigInteger(), nullable=False),
        sa.Column("level", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("capacity > 0", name=op.f("ck_vessels_capacity")),
        sa.CheckConstraint("level >= 0 AND level <= capacity", name=op.f("ck_vessels_level")),
        sa.PrimaryKeyConstraint("id", name="pk_vessels"),
    )
    op.create_table(
        "movements",
        sa.Column("id", ID, nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False, comment="the act, in a word or two"),
        sa.Column("happened_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.Column("reverses_id", ID, nullable=True),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_movements_recorded_by_id"),
        sa.ForeignKeyConstraint(["reverses_id"], ["movements.id"], name="fk_movements_reverses_id"),
        sa.PrimaryKeyConstraint("id", name="pk_movements"),
        sa.UniqueConstraint("reverses_id", name="uq_movements_reverses_id"),
    )
    op.create_index("ix_movements_happened_at", "movements", ["happened_at"])
    op.create_table(
        "postings",
        sa.Column("id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("vessel_id", ID, nullable=True),
        sa.Column("account", WORD, nullable=True),
        sa.Column("unit", WORD, nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("(vessel_id IS NULL) <> (account IS NULL)", name=op.f("ck_postings_one_side")),
        sa.CheckConstraint("amount <> 0", name=op.f("ck_postings_amount")),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_postings_movement_id"),
        sa.ForeignKeyConstraint(["vessel_id"], ["vessels.id"], name="fk_postings_vessel_id"),
        sa.PrimaryKeyConstraint("id", name="pk_postings"),
    )
    op.create_index("ix_postings_account", "postings", ["account"])
    op.create_index("ix_postings_movement_id", "postings", ["movement_id"])
    op.create_index("ix_postings_vessel_id", "postings", ["vessel_id"])
    for table in APPEND_ONLY:
        _refuse_changes(table)


def downgrade() -> None:
    op.drop_table("postings")
    op.drop_table("movements")
    op.drop_table("vessels")


def _refuse_changes(table: str) -> None:
    """What was moved was moved: a wrong movement is reversed by a new one."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("update", "delete"):
            name = f"{table}_no_{verb}"
            op.execute(f"CREATE TRIGGER {name} BEFORE {verb} ON {table} BEGIN SELECT RAISE(ABORT, '{name}'); END")
        return
    for verb, each in (("update", "ROW"), ("delete", "ROW"), ("truncate", "STATEMENT")):
        when = f"BEFORE {verb} ON {table} FOR EACH {each}"
        op.execute(f"CREATE TRIGGER {table}_no_{verb} {when} EXECUTE FUNCTION labsys_refuse()")
