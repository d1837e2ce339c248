"""Recalls: what was wrong, in which baths since when, and whose work was named for it. There were none."""

import sqlalchemy as sa
from alembic import op

revision = "0064"
down_revision = "0063"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def _points_to(table: str, **to: str) -> list[sa.ForeignKeyConstraint]:
    return [
        sa.ForeignKeyConstraint([column], [f"{other}.id"], name=op.f(f"fk_{table}_{column}"))
        for column, other in to.items()
    ]


def upgrade() -> None:
    op.create_table(
        "recalls",
        sa.Column("id", ID, nullable=False),
        sa.Column("fault", sa.String(40), nullable=False),
        sa.Column("why", sa.String(400), nullable=False, comment="how it was found"),
        sa.Column("product_id", ID, nullable=True, comment="of a faulty lot"),
        sa.Column("lot", sa.String(60), nullable=False),
        sa.Column("opened_at", INSTANT, nullable=False),
        sa.Column("opened_by_id", ID, nullable=False),
        sa.Column("closed_at", INSTANT, nullable=True),
        sa.Column("closed_by_id", ID, nullable=True),
        sa.Column("closing", sa.String(400), nullable=False, comment="why it was closed"),
        sa.CheckConstraint("why <> ''", name=op.f("ck_recalls_why")),
        sa.CheckConstraint("(closed_at IS NULL) = (closed_by_id IS NULL)", name=op.f("ck_recalls_closed_by")),
        sa.CheckConstraint("(closed_at IS NULL) = (closing = '')", name=op.f("ck_recalls_closing")),
        *_points_to("recalls", product_id="products", opened_by_id="people", closed_by_id="people"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recalls")),
    )
    op.create_index("ix_recalls_closed_at", "recalls", ["closed_at"])
    op.create_table(
        "recalled_baths",
        sa.Column("id", ID, nullable=False),
        sa.Column("recall_id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("since", INSTANT, nullable=False),
        sa.Column(
            "is_certain",
            sa.Boolean(),
            nullable=False,
            comment="not where only bottles of which nobody noted the lot went in",
        ),
        *_points_to("recalled_baths", recall_id="recalls", bath_id="baths"),
        sa.UniqueConstraint("recall_id", "bath_id", name=op.f("uq_recalled_baths_recall_id_bath_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recalled_baths")),
    )
    op.create_index("ix_recalled_baths_bath_id", "recalled_baths", ["bath_id"])
    op.create_table(
        "recalled_uses",
        sa.Column("id", ID, nullable=False),
        sa.Column("recall_id", ID, nullable=False),
        sa.Column("use_id", ID, nullable=False),
        sa.Column("told_at", INSTANT, nullable=False),
        sa.Column("seen_to_at", INSTANT, nullable=True),
        *_points_to("recalled_uses", recall_id="recalls", use_id="uses"),
        sa.UniqueConstraint("recall_id", "use_id", name=op.f("uq_recalled_uses_recall_id_use_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recalled_uses")),
    )
    op.create_index("ix_recalled_uses_use_id", "recalled_uses", ["use_id"])


def downgrade() -> None:
    for table in ("recalled_uses", "recalled_baths", "recalls"):
        op.drop_table(table)
