"""Kinds of bath: how each is kept up, what replenishes one at which rate, and what was drawn from a stock solution."""

import sqlalchemy as sa
from alembic import op

revision = "0059"
down_revision = "0058"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.add_column("baths", sa.Column("way", sa.String(40), nullable=False, server_default="shared"))
    op.create_table(
        "replenishings",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False, comment="the replenisher"),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False, comment="of the replenisher: N of 1+N, × 1000"),
        sa.Column("rate_ul", sa.BigInteger(), nullable=False, comment="made up, for so much gone through:"),
        sa.Column("rate_mm2", sa.BigInteger(), nullable=False),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("tank_ul", sa.BigInteger(), nullable=False),
        sa.Column("restored_mm2", sa.BigInteger(), nullable=False, comment="area that was made good by now"),
        sa.Column("said_at", INSTANT, nullable=False),
        sa.Column("said_by_id", ID, nullable=False),
        sa.CheckConstraint("rate_ul > 0 AND rate_mm2 > 0", name=op.f("ck_replenishings_rate")),
        sa.CheckConstraint("tank_ul > 0", name=op.f("ck_replenishings_tank")),
        sa.CheckConstraint("restored_mm2 >= 0", name=op.f("ck_replenishings_restored")),
        sa.CheckConstraint("source <> ''", name=op.f("ck_replenishings_source")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name=op.f("fk_replenishings_bath_id")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name=op.f("fk_replenishings_product_id")),
        sa.ForeignKeyConstraint(["said_by_id"], ["people.id"], name=op.f("fk_replenishings_said_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_replenishings")),
        sa.UniqueConstraint("bath_id", name=op.f("uq_replenishings_bath_id")),
    )
    op.create_table(
        "stock_parts",
        sa.Column("id", ID, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("stock_id", ID, nullable=False),
        sa.Column("amount_ul", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("amount_ul > 0", name=op.f("ck_stock_parts_amount")),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_stock_parts_batch_id")),
        sa.ForeignKeyConstraint(["stock_id"], ["baths.id"], name=op.f("fk_stock_parts_stock_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_parts")),
        sa.UniqueConstraint("batch_id", name=op.f("uq_stock_parts_batch_id")),
    )
    op.create_index(op.f("ix_stock_parts_stock_id"), "stock_parts", ["stock_id"])
    op.create_table(
        "seasonings",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("from_bath_id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("amount_ul", sa.BigInteger(), nullable=False),
        *(sa.Column(name, sa.BigInteger(), nullable=False) for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces")),
        sa.CheckConstraint("amount_ul > 0", name=op.f("ck_seasonings_amount")),
        sa.CheckConstraint("from_bath_id <> bath_id", name=op.f("ck_seasonings_another")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name=op.f("fk_seasonings_bath_id")),
        sa.ForeignKeyConstraint(["from_bath_id"], ["baths.id"], name=op.f("fk_seasonings_from_bath_id")),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name=op.f("fk_seasonings_movement_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seasonings")),
        sa.UniqueConstraint("bath_id", name=op.f("uq_seasonings_bath_id")),
    )
    op.create_index(op.f("ix_seasonings_from_bath_id"), "seasonings", ["from_bath_id"])


def downgrade() -> None:
    op.drop_table("seasonings")
    op.drop_table("stock_parts")
    op.drop_table("replenishings")
    op.drop_column("baths", "way")
