"""The chemical store: products, bottles, cylinders and processes."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "products",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("supplier", sa.String(length=120), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column(
            "powder_mg_per_l",
            sa.BigInteger(),
            nullable=True,
            comment="for a powder: mass that makes one litre of undiluted solution",
        ),
        sa.Column("waste_code", sa.String(length=9), nullable=False, comment="List of Waste code of the used solution"),
        sa.Column(
            "h_codes",
            sa.String(length=300),
            nullable=False,
            comment="of the product as supplied, from its SDS; spaces between",
        ),
        sa.Column("sds_date", sa.Date(), nullable=True, comment="issue date of the sheet the entries were read from"),
        sa.Column(
            "density_mg_per_ml",
            sa.Integer(),
            nullable=True,
            comment="of a liquid as supplied, from section 9 of the SDS",
        ),
        sa.Column(
            "ph_limit_milli", sa.Integer(), nullable=True, comment="working solution is exhausted above this pH, × 1000"
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.CheckConstraint("density_mg_per_ml > 0", name=op.f("ck_products_density")),
        sa.CheckConstraint("ph_limit_milli > 0 AND ph_limit_milli < 14000", name=op.f("ck_products_ph_limit")),
        sa.CheckConstraint("powder_mg_per_l > 0", name=op.f("ck_products_powder_mg_per_l")),
        sa.PrimaryKeyConstraint("id", name="pk_products"),
        sa.UniqueConstraint("name", "supplier", name="uq_products_name_supplier"),
    )
    op.create_table(
        "ingredients",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("cas", sa.String(length=12), nullable=False),
        sa.Column("low_ppm", sa.Integer(), nullable=False, comment="parts per million by weight: 10 000 is 1 %"),
        sa.Column("high_ppm", sa.Integer(), nullable=False),
        sa.Column("classification", sa.Text(), nullable=False, comment="classes as on the sheet, semicolons between"),
        sa.Column("specific_limits", sa.Text(), nullable=False),
        sa.Column(
            "m_acute", sa.Integer(), nullable=True, comment="M-factor, where the sheet or the regulation gives one"
        ),
        sa.Column("m_chronic", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "low_ppm >= 0 AND low_ppm <= high_ppm AND high_ppm <= 1000000", name=op.f("ck_ingredients_range")
        ),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_ingredients_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_ingredients"),
        sa.UniqueConstraint("product_id", "cas", name="uq_ingredients_product_id_cas"),
    )
    op.create_table(
        "product_dilutions",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False, comment="N of 1+N, × 1000"),
        sa.Column("use", sa.String(length=60), nullable=False, comment="such as film, paper, fibre paper"),
        sa.CheckConstraint("water_parts_milli >= 0", name=op.f("ck_product_dilutions_water_parts")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_product_dilutions_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_product_dilutions"),
        sa.UniqueConstraint(
            "product_id", "water_parts_milli", "use", name="uq_product_dilutions_product_id_water_parts_milli_use"
        ),
    )
    op.create_table(
        "capacity_rules",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column(
            "water_parts_milli", sa.BigInteger(), nullable=False, comment="the dilution it holds for, N of 1+N × 1000"
        ),
        sa.Column("material", WORD, nullable=False),
        sa.Column("measure", WORD, nullable=False),
        sa.Column("per_litre", sa.BigInteger(), nullable=False, comment="mm² or pieces per litre"),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.CheckConstraint("per_litre > 0", name=op.f("ck_capacity_rules_per_litre")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_capacity_rules_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_capacity_rules"),
        sa.UniqueConstraint(
            "product_id",
            "water_parts_milli",
            "material",
            "measure",
            name="uq_capacity_rules_product_id_water_parts_milli_material_measure",
        ),
    )
    op.create_table(
        "age_rules",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("holding", WORD, nullable=False),
        sa.Column("hours", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.CheckConstraint("hours > 0", name=op.f("ck_age_rules_hours")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_age_rules_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_age_rules"),
        sa.UniqueConstraint("product_id", "holding", name="uq_age_rules_product_id_holding"),
    )
    op.create_table(
        "confirmations",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("confirmed_by_id", ID, nullable=False),
        sa.Column("confirmed_at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["confirmed_by_id"], ["people.id"], name="fk_confirmations_confirmed_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_confirmations_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_confirmations"),
        sa.UniqueConstraint("product_id", "version", name="uq_confirmations_product_id_version"),
    )
    op.create_table(
        "bottles",
        sa.Column("id", ID, nullable=False),
        sa.Column("vessel_id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("lot", sa.String(length=60), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("opened_at", INSTANT, nullable=True),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_bottles_product_id"),
        sa.ForeignKeyConstraint(["vessel_id"], ["vessels.id"], name="fk_bottles_vessel_id"),
        sa.PrimaryKeyConstraint("id", name="pk_bottles"),
        sa.UniqueConstraint("code", name="uq_bottles_code"),
        sa.UniqueConstraint("vessel_id", name="uq_bottles_vessel_id"),
    )
    op.create_index("ix_bottles_product_id", "bottles", ["product_id"])
    op.create_table(
        "cylinders",
        sa.Column("id", ID, nullable=False),
        sa.Column("nominal_ml", sa.Integer(), nullable=False),
        sa.Column("division_ul", sa.Integer(), nullable=False),
        sa.Column("accuracy_class", WORD, nullable=False),
        sa.Column("kept_for", WORD, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_cylinders"),
    )
    op.create_table(
        "processes",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("material", WORD, nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_processes"),
        sa.UniqueConstraint("name", name="uq_processes_name"),
    )
    op.create_table(
        "process_steps",
        sa.Column("id", ID, nullable=False),
        sa.Column("process_id", ID, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("product_id", ID, nullable=True),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=True),
        sa.Column("seconds", sa.Integer(), nullable=True),
        sa.Column("temperature_milli_c", sa.Integer(), nullable=True, comment="°C × 1000"),
        sa.Column("changes", sa.Integer(), nullable=True, comment="changes of water in a wash"),
        sa.Column("in_the_dark", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.CheckConstraint("changes >= 1", name=op.f("ck_process_steps_changes")),
        sa.CheckConstraint("seconds > 0", name=op.f("ck_process_steps_seconds")),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_process_steps_process_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_process_steps_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_process_steps"),
        sa.UniqueConstraint("process_id", "position", name="uq_process_steps_process_id_position"),
    )


def downgrade() -> None:
    op.drop_table("process_steps")
    op.drop_table("processes")
    op.drop_table("cylinders")
    op.drop_table("bottles")
    op.drop_table("confirmations")
    op.drop_table("age_rules")
    op.drop_table("capacity_rules")
    op.drop_table("product_dilutions")
    op.drop_table("ingredients")
    op.drop_table("products")
