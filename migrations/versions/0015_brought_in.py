"""Chemicals people bring in."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "declarations",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("supplier", sa.String(length=120), nullable=False),
        sa.Column("h_codes", sa.String(length=300), nullable=False, comment="as on the SDS; spaces between"),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("unit", WORD, nullable=False),
        sa.Column("sds_digest", sa.String(length=64), nullable=True, comment="its SDS as sent"),
        sa.Column("task", sa.String(length=1000), nullable=False),
        sa.Column("process_id", ID, nullable=True),
        sa.Column("first_on", sa.Date(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column(
            "waste_code",
            sa.String(length=9),
            nullable=False,
            comment="of what is left of it; empty: the person takes it home",
        ),
        sa.Column("declared_at", INSTANT, nullable=False),
        sa.Column("is_accepted", sa.Boolean(), nullable=True),
        sa.Column("sds_shown", sa.Boolean(), nullable=False, comment="whoever decided saw the SDS"),
        sa.Column("reasons", sa.String(length=1000), nullable=False),
        sa.Column("conditions", sa.String(length=1000), nullable=False),
        sa.Column("decided_at", INSTANT, nullable=True),
        sa.Column("decided_by_id", ID, nullable=True),
        sa.Column("code", sa.String(length=20), nullable=True),
        sa.Column("ended_at", INSTANT, nullable=True),
        sa.Column("ending", WORD, nullable=True),
        sa.Column("container_label", sa.String(length=20), nullable=False, comment="of the waste container it went to"),
        sa.CheckConstraint("amount > 0", name=op.f("ck_declarations_amount")),
        sa.CheckConstraint("first_on <= last_on", name=op.f("ck_declarations_days")),
        sa.CheckConstraint(
            "ended_at IS NULL OR decided_at IS NOT NULL OR ending = 'never brought'", name=op.f("ck_declarations_ended")
        ),
        sa.ForeignKeyConstraint(["decided_by_id"], ["people.id"], name="fk_declarations_decided_by_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_declarations_person_id"),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_declarations_process_id"),
        sa.ForeignKeyConstraint(["sds_digest"], ["sheet_contents.digest"], name="fk_declarations_sds_digest"),
        sa.PrimaryKeyConstraint("id", name="pk_declarations"),
        sa.UniqueConstraint("code", name="uq_declarations_code"),
    )
    op.create_index("ix_declarations_ended_at", "declarations", ["ended_at"])
    op.create_index("ix_declarations_person_id_id", "declarations", ["person_id", "id"])
    op.create_table(
        "declared_ingredients",
        sa.Column("id", ID, nullable=False),
        sa.Column("declaration_id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("cas", sa.String(length=12), nullable=False),
        sa.ForeignKeyConstraint(["declaration_id"], ["declarations.id"], name="fk_declared_ingredients_declaration_id"),
        sa.PrimaryKeyConstraint("id", name="pk_declared_ingredients"),
        sa.UniqueConstraint("declaration_id", "cas", name="uq_declared_ingredients_declaration_id_cas"),
    )


def downgrade() -> None:
    op.drop_table("declared_ingredients")
    op.drop_table("declarations")
    op.execute("DELETE FROM codes WHERE kind = 'G'")
    op.execute("DELETE FROM code_counters WHERE kind = 'G'")
