"""Nothing goes to the foul sewer without a consent that names it; what did all the same is answered for."""

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
LAB = (
    ("drains_to", "where the sinks drain to; empty: not known"),
    ("undertaker", "sewerage undertaker, with its number"),
)


def upgrade() -> None:
    for name, comment in LAB:
        op.add_column("lab", sa.Column(name, sa.String(length=300), nullable=False, server_default="", comment=comment))
    op.create_table(
        "sewer_consents",
        sa.Column("id", ID, nullable=False),
        sa.Column("reference", sa.String(length=80), nullable=False),
        sa.Column("issued_by", sa.String(length=160), nullable=False),
        sa.Column("limits", sa.String(length=400), nullable=False, comment="as the consent puts them"),
        sa.Column("most_ul_a_day", sa.BigInteger(), nullable=True),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=False, comment="the last day it holds"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.CheckConstraint("valid_from <= valid_until", name=op.f("ck_sewer_consents_days")),
        sa.CheckConstraint("most_ul_a_day > 0", name=op.f("ck_sewer_consents_most_ul_a_day")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_sewer_consents_recorded_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sewer_consents"),
        sa.UniqueConstraint("reference", name="uq_sewer_consents_reference"),
    )
    op.create_table(
        "sewer_consent_names",
        sa.Column("id", ID, nullable=False),
        sa.Column("consent_id", ID, nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=True),
        sa.Column("waste_code", sa.String(length=9), nullable=True),
        sa.CheckConstraint("(kind IS NULL) <> (waste_code IS NULL)", name=op.f("ck_sewer_consent_names_one_of_two")),
        sa.ForeignKeyConstraint(["consent_id"], ["sewer_consents.id"], name="fk_sewer_consent_names_consent_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sewer_consent_names"),
    )
    op.create_index("ix_sewer_consent_names_consent_id", "sewer_consent_names", ["consent_id"])
    op.execute(
        "UPDATE discharges SET wrong_because = 'No consent that names it was on file when it was recorded.' "
        "WHERE wrong_because = ''"
    )
    key = "INTEGER" if op.get_bind().dialect.name == "sqlite" else "BIGINT"
    op.execute(
        f"ALTER TABLE discharges ADD COLUMN consent_id {key} "
        "CONSTRAINT fk_discharges_consent_id REFERENCES sewer_consents (id) "
        "CONSTRAINT ck_discharges_consent_or_wrong CHECK (consent_id IS NOT NULL OR wrong_because <> '')"
    )
    op.create_table(
        "discharge_answers",
        sa.Column("id", ID, nullable=False),
        sa.Column("discharge_id", ID, nullable=False),
        sa.Column("answer", sa.String(length=400), nullable=False),
        sa.Column("answered_at", INSTANT, nullable=False),
        sa.Column("answered_by_id", ID, nullable=False),
        sa.CheckConstraint("answer <> ''", name=op.f("ck_discharge_answers_answer")),
        sa.ForeignKeyConstraint(["answered_by_id"], ["people.id"], name="fk_discharge_answers_answered_by_id"),
        sa.ForeignKeyConstraint(["discharge_id"], ["discharges.id"], name="fk_discharge_answers_discharge_id"),
        sa.PrimaryKeyConstraint("id", name="pk_discharge_answers"),
        sa.UniqueConstraint("discharge_id", name="uq_discharge_answers_discharge_id"),
    )


def downgrade() -> None:
    op.drop_table("discharge_answers")
    op.drop_column("discharges", "consent_id")
    op.drop_table("sewer_consent_names")
    op.drop_table("sewer_consents")
    for name, _ in reversed(LAB):
        op.drop_column("lab", name)
