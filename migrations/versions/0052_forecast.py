"""The forecast as it was worked out, of baths, classes, bottles and products, and what came of it."""

import sqlalchemy as sa
from alembic import op

revision = "0052"
down_revision = "0051"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WHY = sa.String(300).with_variant(sa.Text(), "postgresql")
TABLES = (
    "product_packs",
    "forecast_products",
    "forecast_bottles",
    "forecast_classes",
    "forecast_baths",
    "forecast_runs",
)


def upgrade() -> None:
    op.create_table(
        "forecast_runs",
        sa.Column("id", ID, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("day", sa.Date(), nullable=False, comment="on the clock in the lab"),
        sa.Column("until", INSTANT, nullable=False, comment="how far it looks ahead"),
        sa.Column("basis", sa.String(64), nullable=False, comment="digest of what it was worked out from"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast_runs")),
    )
    op.create_index("ix_forecast_runs_day", "forecast_runs", ["day"])
    op.create_table(
        "forecast_baths",
        *_of_run("forecast_baths"),
        *_about("forecast_baths", "bath", "baths"),
        sa.Column("made_up_ul", sa.BigInteger(), nullable=False, comment="of the bath when this was worked out"),
        sa.Column("ends_by", sa.String(40), nullable=True),
        sa.Column("why_not_known", WHY, nullable=False),
        *_range("forecast_baths"),
        *(sa.Column(name, sa.BigInteger(), nullable=False) for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces")),
    )
    op.create_table(
        "forecast_classes",
        *_of_run("forecast_classes"),
        sa.Column("booking_id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=True),
        sa.Column("starts_at", INSTANT, nullable=False, comment="of the class, when this was worked out"),
        sa.Column("verdict", sa.String(40), nullable=False),
        sa.Column(
            "wanted_low", sa.Integer(), nullable=True, comment="rolls, or sheets of 8x10 in, that the class takes"
        ),
        sa.Column("wanted_high", sa.Integer(), nullable=True),
        sa.Column(
            "left_low", sa.Integer(), nullable=True, comment="the same, that the bath has left when the class begins"
        ),
        sa.Column("left_high", sa.Integer(), nullable=True),
        sa.Column("why_not_known", WHY, nullable=False),
        sa.Column("outcome", sa.String(40), nullable=True),
        sa.UniqueConstraint(
            "run_id", "booking_id", "bath_id", name=op.f("uq_forecast_classes_run_id_booking_id_bath_id")
        ),
        sa.CheckConstraint("(verdict = 'not known') = (why_not_known <> '')", name=op.f("ck_forecast_classes_known")),
        sa.CheckConstraint("bath_id IS NOT NULL OR verdict = 'not known'", name=op.f("ck_forecast_classes_bath")),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name=op.f("fk_forecast_classes_booking_id")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name=op.f("fk_forecast_classes_bath_id")),
    )
    op.create_table(
        "forecast_bottles",
        *_of_run("forecast_bottles"),
        *_about("forecast_bottles", "bottle", "bottles"),
        sa.Column("why_not_known", WHY, nullable=False),
        *_range("forecast_bottles"),
    )
    op.create_table(
        "forecast_products",
        *_of_run("forecast_products"),
        *_about("forecast_products", "product", "products"),
        sa.Column("short_from", INSTANT, nullable=True, comment="when too little is left for what is mixed"),
        sa.Column("short_until", INSTANT, nullable=True),
        sa.Column(
            "wanted_low",
            sa.BigInteger(),
            nullable=False,
            comment="taken until the end of the forecast, in its own unit",
        ),
        sa.Column("wanted_high", sa.BigInteger(), nullable=False),
        sa.Column("missing", sa.BigInteger(), nullable=False, comment="what is to be bought for it, in its own unit"),
        sa.Column("cover", sa.Text(), nullable=False, comment="JSON: low and high of what is left, day by day"),
        sa.Column("why_not_known", WHY, nullable=False),
        sa.CheckConstraint("short_from <= short_until", name=op.f("ck_forecast_products_ordered")),
        sa.CheckConstraint(
            "wanted_low >= 0 AND wanted_low <= wanted_high AND missing >= 0", name=op.f("ck_forecast_products_amounts")
        ),
    )
    op.create_table(
        "product_packs",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False, comment="in the product's unit"),
        sa.CheckConstraint("amount > 0", name=op.f("ck_product_packs_amount")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name=op.f("fk_product_packs_product_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_product_packs")),
        sa.UniqueConstraint("product_id", "amount", name=op.f("uq_product_packs_product_id_amount")),
    )
    for table, column in (
        ("forecast_baths", "bath_id"),
        ("forecast_baths", "outcome"),
        ("forecast_classes", "booking_id"),
        ("forecast_classes", "bath_id"),
        ("forecast_classes", "outcome"),
        ("forecast_bottles", "bottle_id"),
        ("forecast_bottles", "outcome"),
        ("forecast_products", "product_id"),
    ):
        op.create_index(f"ix_{table}_{column}", table, [column])


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)


def _of_run(table: str) -> list[sa.schema.SchemaItem]:
    return [
        sa.Column("id", ID, nullable=False),
        sa.Column("run_id", ID, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.ForeignKeyConstraint(["run_id"], ["forecast_runs.id"], name=op.f(f"fk_{table}_run_id"), ondelete="CASCADE"),
    ]


def _about(table: str, what: str, rows: str) -> list[sa.schema.SchemaItem]:
    return [
        sa.Column(f"{what}_id", ID, nullable=False),
        sa.ForeignKeyConstraint([f"{what}_id"], [f"{rows}.id"], name=op.f(f"fk_{table}_{what}_id")),
        sa.UniqueConstraint("run_id", f"{what}_id", name=op.f(f"uq_{table}_run_id_{what}_id")),
    ]


def _range(table: str) -> list[sa.schema.SchemaItem]:
    return [
        sa.Column("earliest_at", INSTANT, nullable=True),
        sa.Column("latest_at", INSTANT, nullable=True),
        sa.Column("outcome", sa.String(40), nullable=True),
        sa.Column("ended_at", INSTANT, nullable=True, comment="when it did, as far as that was seen"),
        sa.CheckConstraint("earliest_at <= latest_at", name=op.f(f"ck_{table}_ordered")),
        sa.CheckConstraint("latest_at IS NULL OR earliest_at IS NOT NULL", name=op.f(f"ck_{table}_begins")),
        sa.CheckConstraint(
            "why_not_known = '' OR (earliest_at IS NULL AND outcome IS NULL)", name=op.f(f"ck_{table}_known")
        ),
    ]
