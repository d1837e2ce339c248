"""Baths: lines, mixing, uses and checks."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "bath_lines",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("work", WORD, nullable=False),
        sa.Column("process_id", ID, nullable=True),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_bath_lines_process_id"),
        sa.PrimaryKeyConstraint("id", name="pk_bath_lines"),
        sa.UniqueConstraint("code", name="uq_bath_lines_code"),
        sa.UniqueConstraint("name", name="uq_bath_lines_name"),
    )
    op.create_table(
        "baths",
        sa.Column("id", ID, nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("vessel_id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False, comment="N of 1+N, × 1000, as intended"),
        sa.Column("holding", WORD, nullable=False),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("place", WORD, nullable=False),
        sa.Column("mixed_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("mixed_by_id", ID, nullable=False),
        sa.Column("in_service_at", INSTANT, nullable=True),
        sa.Column("out_of_service_at", INSTANT, nullable=True),
        sa.Column("dumped_at", INSTANT, nullable=True),
        sa.Column(
            "made_up_ul", sa.BigInteger(), nullable=False, comment="working solution mixed and replenished, in all"
        ),
        sa.Column("film_mm2", sa.BigInteger(), nullable=False),
        sa.Column("rc_mm2", sa.BigInteger(), nullable=False),
        sa.Column("fibre_mm2", sa.BigInteger(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "film_mm2 >= 0 AND rc_mm2 >= 0 AND fibre_mm2 >= 0 AND pieces >= 0", name=op.f("ck_baths_used")
        ),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name="fk_baths_line_id"),
        sa.ForeignKeyConstraint(["mixed_by_id"], ["people.id"], name="fk_baths_mixed_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_baths_product_id"),
        sa.ForeignKeyConstraint(["vessel_id"], ["vessels.id"], name="fk_baths_vessel_id"),
        sa.PrimaryKeyConstraint("id", name="pk_baths"),
        sa.UniqueConstraint("code", name="uq_baths_code"),
        sa.UniqueConstraint("vessel_id", name="uq_baths_vessel_id"),
    )
    op.create_index("ix_baths_dumped_at_line_id", "baths", ["dumped_at", "line_id"])
    op.create_index("ix_baths_product_id", "baths", ["product_id"])
    op.create_table(
        "batches",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("volume_ul", sa.BigInteger(), nullable=False),
        sa.Column(
            "strength_ppm",
            sa.Integer(),
            nullable=False,
            comment="measured strength against intended, 1 000 000 is equal",
        ),
        sa.Column("mixed_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("mixed_by_id", ID, nullable=False),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_batches_volume")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name="fk_batches_bath_id"),
        sa.ForeignKeyConstraint(["mixed_by_id"], ["people.id"], name="fk_batches_mixed_by_id"),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_batches_movement_id"),
        sa.PrimaryKeyConstraint("id", name="pk_batches"),
        sa.UniqueConstraint("movement_id", name="uq_batches_movement_id"),
    )
    op.create_index("ix_batches_bath_id", "batches", ["bath_id"])
    op.create_table(
        "batch_parts",
        sa.Column("id", ID, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("bottle_id", ID, nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False, comment="in the bottle's unit"),
        sa.CheckConstraint("amount > 0", name=op.f("ck_batch_parts_amount")),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name="fk_batch_parts_batch_id"),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottles.id"], name="fk_batch_parts_bottle_id"),
        sa.PrimaryKeyConstraint("id", name="pk_batch_parts"),
        sa.UniqueConstraint("batch_id", "bottle_id", name="uq_batch_parts_batch_id_bottle_id"),
    )
    op.create_index("ix_batch_parts_bottle_id", "batch_parts", ["bottle_id"])
    op.create_table(
        "uses",
        sa.Column("id", ID, nullable=False),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False, comment="whose work, or who taught the class"),
        sa.Column(
            "class_name", sa.String(length=80), nullable=False, comment="a tally for a class; empty for one person"
        ),
        sa.Column("size", sa.String(length=20), nullable=False),
        sa.Column("material", WORD, nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("area_mm2", sa.BigInteger(), nullable=False),
        sa.Column("used_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.Column("flag", sa.String(length=400), nullable=False, comment="what was wrong with it, in words"),
        sa.Column("corrects_id", ID, nullable=True),
        sa.CheckConstraint("count >= 0", name=op.f("ck_uses_count")),
        sa.ForeignKeyConstraint(["corrects_id"], ["uses.id"], name="fk_uses_corrects_id"),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name="fk_uses_line_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_uses_person_id"),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_uses_recorded_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_uses"),
        sa.UniqueConstraint("corrects_id", name="uq_uses_corrects_id"),
    )
    op.create_index("ix_uses_line_id", "uses", ["line_id"])
    op.create_index("ix_uses_person_id_used_at", "uses", ["person_id", "used_at"])
    op.create_table(
        "use_baths",
        sa.Column("id", ID, nullable=False),
        sa.Column("use_id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name="fk_use_baths_bath_id"),
        sa.ForeignKeyConstraint(["use_id"], ["uses.id"], name="fk_use_baths_use_id"),
        sa.PrimaryKeyConstraint("id", name="pk_use_baths"),
        sa.UniqueConstraint("use_id", "bath_id", name="uq_use_baths_use_id_bath_id"),
    )
    op.create_index("ix_use_baths_bath_id_use_id", "use_baths", ["bath_id", "use_id"])
    op.create_table(
        "checks",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("value_milli", sa.Integer(), nullable=True, comment="seconds or pH, × 1000"),
        sa.Column("colour", WORD, nullable=True, comment="of an indicator"),
        sa.Column(
            "is_fresh",
            sa.Boolean(),
            nullable=False,
            comment="clearing time of the fresh bath: the others are held against it",
        ),
        sa.Column("film_mm2", sa.BigInteger(), nullable=False),
        sa.Column("rc_mm2", sa.BigInteger(), nullable=False),
        sa.Column("fibre_mm2", sa.BigInteger(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.Column("checked_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("checked_by_id", ID, nullable=False),
        sa.CheckConstraint("(value_milli IS NULL) <> (colour IS NULL)", name=op.f("ck_checks_one_result")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name="fk_checks_bath_id"),
        sa.ForeignKeyConstraint(["checked_by_id"], ["people.id"], name="fk_checks_checked_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_checks"),
    )
    op.create_index("ix_checks_bath_id", "checks", ["bath_id"])


def downgrade() -> None:
    op.drop_table("checks")
    op.drop_table("use_baths")
    op.drop_table("uses")
    op.drop_table("batch_parts")
    op.drop_table("batches")
    op.drop_table("baths")
    op.drop_table("bath_lines")
