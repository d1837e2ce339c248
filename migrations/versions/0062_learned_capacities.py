"""Capacities that this lab's own tests propose, approved by two people."""

import sqlalchemy as sa
from alembic import op

revision = "0062"
down_revision = "0061"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "learned_capacities",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False),
        sa.Column("material", sa.String(40), nullable=False),
        sa.Column("supplier_per_litre", sa.BigInteger(), nullable=False, comment="as it stood then, mm²"),
        sa.Column("per_litre", sa.BigInteger(), nullable=False, comment="mm²"),
        sa.Column("low", sa.BigInteger(), nullable=False, comment="of the range, mm² a litre"),
        sa.Column("high", sa.BigInteger(), nullable=False, comment="of the range, mm² a litre"),
        sa.Column("baths", sa.Integer(), nullable=False, comment="that were tested"),
        sa.Column(
            "silver_baths", sa.Integer(), nullable=False, comment="with a good drop for silver at this figure or beyond"
        ),
        sa.Column(
            "thiosulfate_baths", sa.Integer(), nullable=False, comment="with a good test of the wash there or beyond"
        ),
        sa.Column("first_at", INSTANT, nullable=False),
        sa.Column("first_by_id", ID, nullable=False),
        sa.Column("second_at", INSTANT, nullable=True),
        sa.Column("second_by_id", ID, nullable=True),
        sa.CheckConstraint(
            "per_litre > 0 AND supplier_per_litre > 0 AND low <= high", name=op.f("ck_learned_capacities_figures")
        ),
        sa.CheckConstraint("second_by_id <> first_by_id", name=op.f("ck_learned_capacities_two_people")),
        sa.CheckConstraint("(second_by_id IS NULL) = (second_at IS NULL)", name=op.f("ck_learned_capacities_second")),
        sa.CheckConstraint(
            "per_litre <= supplier_per_litre OR (silver_baths >= 5 AND thiosulfate_baths >= 5)",
            name=op.f("ck_learned_capacities_raised"),
        ),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_learned_capacities_product_id"),
        sa.ForeignKeyConstraint(["first_by_id"], ["people.id"], name="fk_learned_capacities_first_by_id"),
        sa.ForeignKeyConstraint(["second_by_id"], ["people.id"], name="fk_learned_capacities_second_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_learned_capacities"),
    )
    op.create_index("ix_learned_capacities_product_id", "learned_capacities", ["product_id"])


def downgrade() -> None:
    op.drop_table("learned_capacities")
