"""Assessments: subjects, versions, substances, controls and actions."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "risk_assessments",
        sa.Column("id", ID, nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("title", sa.String(length=160), nullable=False),
        sa.Column("process_id", ID, nullable=True),
        sa.Column("added_at", INSTANT, nullable=False),
        sa.Column("added_by_id", ID, nullable=False),
        sa.Column("withdrawn_at", INSTANT, nullable=True),
        sa.Column("withdrawn_by_id", ID, nullable=True),
        sa.Column("withdrawn_because", sa.String(length=400), nullable=False),
        sa.CheckConstraint("(process_id IS NOT NULL) = (kind = 'process')", name=op.f("ck_risk_assessments_process")),
        sa.CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name=op.f("ck_risk_assessments_withdrawn")
        ),
        sa.ForeignKeyConstraint(["added_by_id"], ["people.id"], name="fk_risk_assessments_added_by_id"),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name="fk_risk_assessments_process_id"),
        sa.ForeignKeyConstraint(["withdrawn_by_id"], ["people.id"], name="fk_risk_assessments_withdrawn_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_assessments"),
        sa.UniqueConstraint("code", name="uq_risk_assessments_code"),
    )
    op.create_index("ix_risk_assessments_process_id", "risk_assessments", ["process_id"])
    op.create_table(
        "risk_subject_products",
        sa.Column("id", ID, nullable=False),
        sa.Column("assessment_id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.ForeignKeyConstraint(
            ["assessment_id"], ["risk_assessments.id"], name="fk_risk_subject_products_assessment_id"
        ),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_risk_subject_products_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_subject_products"),
        sa.UniqueConstraint("assessment_id", "product_id", name="uq_risk_subject_products_assessment_id_product_id"),
    )
    op.create_index("ix_risk_subject_products_product_id", "risk_subject_products", ["product_id"])
    op.create_table(
        "risk_versions",
        sa.Column("id", ID, nullable=False),
        sa.Column("assessment_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("edition", sa.Integer(), nullable=False, comment="raised by every change"),
        sa.Column("state", WORD, nullable=False),
        sa.Column("basis", sa.String(length=300), nullable=False, comment="what it was begun from, with the source"),
        sa.Column(
            "fingerprint", sa.String(length=64), nullable=False, comment="of the steps of the process as assessed"
        ),
        sa.Column("task", sa.Text(), nullable=False),
        sa.Column("who", sa.String(length=80), nullable=False, comment="semicolons between"),
        sa.Column("how_many", sa.Integer(), nullable=True, comment="people at once"),
        sa.Column("routes", sa.String(length=80), nullable=False, comment="semicolons between"),
        sa.Column("frequency", sa.String(length=200), nullable=False),
        sa.Column("duration", sa.String(length=200), nullable=False),
        sa.Column("existing_controls", sa.Text(), nullable=False),
        sa.Column("air_changes_tenths", sa.Integer(), nullable=True, comment="of the room's air per hour, × 10"),
        sa.Column("air_changes_source", sa.String(length=200), nullable=False),
        sa.Column("glove_material", sa.String(length=200), nullable=False),
        sa.Column("glove_minutes", sa.Integer(), nullable=True, comment="breakthrough time"),
        sa.Column("glove_source", sa.String(length=200), nullable=False),
        sa.Column("has_surveillance", sa.Boolean(), nullable=False, comment="health surveillance; never its findings"),
        sa.Column("surveillance_reason", sa.Text(), nullable=False),
        sa.Column("first_aid", sa.Text(), nullable=False),
        sa.Column("spill", sa.Text(), nullable=False),
        sa.Column("storage", sa.Text(), nullable=False),
        sa.Column("disposal", sa.Text(), nullable=False),
        sa.Column("residual", WORD, nullable=True),
        sa.Column("residual_reason", sa.Text(), nullable=False),
        sa.Column("under_18", WORD, nullable=True),
        sa.Column("under_18_with", sa.String(length=200), nullable=False),
        sa.Column("review_on", sa.Date(), nullable=True),
        sa.Column("assessor_id", ID, nullable=False, comment="who wrote it last"),
        sa.Column("written_at", INSTANT, nullable=False),
        sa.Column("submitted_at", INSTANT, nullable=True),
        sa.Column("approved_at", INSTANT, nullable=True),
        sa.Column("approved_by_id", ID, nullable=True, comment="who approved it, or put an outside approval down"),
        sa.Column("outside_approver", sa.String(length=120), nullable=False),
        sa.Column("outside_organisation", sa.String(length=200), nullable=False),
        sa.Column("own_approval_because", sa.String(length=400), nullable=False),
        sa.Column("sent_back_at", INSTANT, nullable=True),
        sa.Column("sent_back_by_id", ID, nullable=True),
        sa.Column("sent_back_because", sa.String(length=400), nullable=False),
        sa.CheckConstraint("air_changes_tenths >= 0", name=op.f("ck_risk_versions_air_changes")),
        sa.CheckConstraint(
            "(approved_at IS NOT NULL) = (state IN ('approved', 'superseded'))", name=op.f("ck_risk_versions_approved")
        ),
        sa.CheckConstraint("glove_minutes > 0", name=op.f("ck_risk_versions_glove_minutes")),
        sa.CheckConstraint("how_many > 0", name=op.f("ck_risk_versions_how_many")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_risk_versions_number")),
        sa.ForeignKeyConstraint(["approved_by_id"], ["people.id"], name="fk_risk_versions_approved_by_id"),
        sa.ForeignKeyConstraint(["assessment_id"], ["risk_assessments.id"], name="fk_risk_versions_assessment_id"),
        sa.ForeignKeyConstraint(["assessor_id"], ["people.id"], name="fk_risk_versions_assessor_id"),
        sa.ForeignKeyConstraint(["sent_back_by_id"], ["people.id"], name="fk_risk_versions_sent_back_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_versions"),
        sa.UniqueConstraint("assessment_id", "number", name="uq_risk_versions_assessment_id_number"),
    )
    op.create_index("ix_risk_versions_state", "risk_versions", ["state"])
    op.create_table(
        "risk_substances",
        sa.Column("id", ID, nullable=False),
        sa.Column("version_id", ID, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False, comment="of the product at the time"),
        sa.Column("product_version", sa.Integer(), nullable=False),
        sa.Column("sds_date", sa.Date(), nullable=True, comment="of the SDS it was assessed by"),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=True, comment="none: as supplied"),
        sa.Column("amount", sa.BigInteger(), nullable=False, comment="handled in one go"),
        sa.Column("unit", WORD, nullable=False),
        sa.Column("codes", sa.String(length=300), nullable=False, comment="as handled; spaces between"),
        sa.Column("codes_from", sa.String(length=300), nullable=False),
        sa.Column("sensitisers", sa.String(length=400), nullable=False, comment="present at any strength"),
        sa.Column("spread", WORD, nullable=False),
        sa.Column("spread_from", sa.String(length=300), nullable=False),
        sa.Column("hazard_group", WORD, nullable=False),
        sa.Column("deciding", sa.String(length=300), nullable=False, comment="codes that put it in the group"),
        sa.Column("amount_band", WORD, nullable=False),
        sa.Column("approach", sa.Integer(), nullable=False, comment="as calculated"),
        sa.Column("skin_and_eyes", sa.Boolean(), nullable=False),
        sa.Column(
            "chosen_approach",
            sa.Integer(),
            nullable=True,
            comment="by the assessor, where it is not the calculated one",
        ),
        sa.Column("chosen_because", sa.Text(), nullable=False),
        sa.Column("chosen_by_id", ID, nullable=True),
        sa.CheckConstraint("amount > 0", name=op.f("ck_risk_substances_amount")),
        sa.CheckConstraint("approach BETWEEN 1 AND 4", name=op.f("ck_risk_substances_approach")),
        sa.CheckConstraint("chosen_approach BETWEEN 1 AND 4", name=op.f("ck_risk_substances_chosen_approach")),
        sa.ForeignKeyConstraint(["chosen_by_id"], ["people.id"], name="fk_risk_substances_chosen_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_risk_substances_product_id"),
        sa.ForeignKeyConstraint(["version_id"], ["risk_versions.id"], name="fk_risk_substances_version_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_substances"),
        sa.UniqueConstraint("version_id", "position", name="uq_risk_substances_version_id_position"),
    )
    op.create_index("ix_risk_substances_product_id", "risk_substances", ["product_id"])
    op.create_table(
        "risk_controls",
        sa.Column("id", ID, nullable=False),
        sa.Column("version_id", ID, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("level", WORD, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["version_id"], ["risk_versions.id"], name="fk_risk_controls_version_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_controls"),
        sa.UniqueConstraint("version_id", "position", name="uq_risk_controls_version_id_position"),
    )
    op.create_table(
        "risk_actions",
        sa.Column("id", ID, nullable=False),
        sa.Column("assessment_id", ID, nullable=False),
        sa.Column("text", sa.String(length=300), nullable=False),
        sa.Column("owner_id", ID, nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("added_at", INSTANT, nullable=False),
        sa.Column("added_by_id", ID, nullable=False),
        sa.Column("done_at", INSTANT, nullable=True),
        sa.Column("done_by_id", ID, nullable=True),
        sa.Column("done_note", sa.String(length=300), nullable=False),
        sa.CheckConstraint("(done_at IS NULL) = (done_by_id IS NULL)", name=op.f("ck_risk_actions_done")),
        sa.ForeignKeyConstraint(["added_by_id"], ["people.id"], name="fk_risk_actions_added_by_id"),
        sa.ForeignKeyConstraint(["assessment_id"], ["risk_assessments.id"], name="fk_risk_actions_assessment_id"),
        sa.ForeignKeyConstraint(["done_by_id"], ["people.id"], name="fk_risk_actions_done_by_id"),
        sa.ForeignKeyConstraint(["owner_id"], ["people.id"], name="fk_risk_actions_owner_id"),
        sa.PrimaryKeyConstraint("id", name="pk_risk_actions"),
    )
    op.create_index("ix_risk_actions_assessment_id", "risk_actions", ["assessment_id"])
    op.create_index("ix_risk_actions_owner_id", "risk_actions", ["owner_id"])


def downgrade() -> None:
    op.drop_table("risk_actions")
    op.drop_table("risk_controls")
    op.drop_table("risk_substances")
    op.drop_table("risk_versions")
    op.drop_table("risk_subject_products")
    op.drop_table("risk_assessments")
