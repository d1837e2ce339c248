"""Inductions, requirements and sign-offs."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "inductions",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("how_to_get", sa.String(length=200), nullable=False, comment="shown to whoever lacks it"),
        sa.PrimaryKeyConstraint("id", name="pk_inductions"),
        sa.UniqueConstraint("name", name="uq_inductions_name"),
    )
    op.create_table(
        "induction_versions",
        sa.Column("id", ID, nullable=False),
        sa.Column("induction_id", ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False, comment="the points covered, one a line"),
        sa.Column("valid_days", sa.Integer(), nullable=True, comment="none: does not lapse"),
        sa.Column("must_repeat", sa.Boolean(), nullable=False, comment="whoever signed an earlier version signs again"),
        sa.Column("issued_at", INSTANT, nullable=False),
        sa.CheckConstraint("valid_days > 0", name=op.f("ck_induction_versions_valid_days")),
        sa.ForeignKeyConstraint(["induction_id"], ["inductions.id"], name="fk_induction_versions_induction_id"),
        sa.PrimaryKeyConstraint("id", name="pk_induction_versions"),
        sa.UniqueConstraint("induction_id", "number", name="uq_induction_versions_induction_id_number"),
    )
    op.create_table(
        "requirements",
        sa.Column("id", ID, nullable=False),
        sa.Column("induction_id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=True),
        sa.Column("material", WORD, nullable=True, comment="the family of a process"),
        sa.Column("hazard", WORD, nullable=True),
        sa.CheckConstraint(
            "(CASE WHEN station_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN material IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN hazard IS NULL THEN 0 ELSE 1 END) = 1",
            name=op.f("ck_requirements_one_subject"),
        ),
        sa.ForeignKeyConstraint(["induction_id"], ["inductions.id"], name="fk_requirements_induction_id"),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_requirements_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_requirements"),
        sa.UniqueConstraint("induction_id", "hazard", name="uq_requirements_induction_id_hazard"),
        sa.UniqueConstraint("induction_id", "material", name="uq_requirements_induction_id_material"),
        sa.UniqueConstraint("induction_id", "station_id", name="uq_requirements_induction_id_station_id"),
    )
    op.create_table(
        "sign_offs",
        sa.Column("id", ID, nullable=False),
        sa.Column("version_id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("signed_by_id", ID, nullable=False),
        sa.Column(
            "is_appointment",
            sa.Boolean(),
            nullable=False,
            comment="the manager names a first holder, whom nobody here could teach",
        ),
        sa.Column("taught_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("lapses_at", INSTANT, nullable=True),
        sa.Column("confirmed_at", INSTANT, nullable=True),
        sa.Column("confirmed_by", WORD, nullable=True),
        sa.Column("sheet", sa.String(length=80), nullable=False, comment="where the signed sheet is kept"),
        sa.CheckConstraint("(confirmed_at IS NULL) = (confirmed_by IS NULL)", name=op.f("ck_sign_offs_confirmed")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_sign_offs_person_id"),
        sa.ForeignKeyConstraint(["signed_by_id"], ["people.id"], name="fk_sign_offs_signed_by_id"),
        sa.ForeignKeyConstraint(["version_id"], ["induction_versions.id"], name="fk_sign_offs_version_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sign_offs"),
    )
    op.create_index("ix_sign_offs_lapses_at", "sign_offs", ["lapses_at"])
    op.create_index("ix_sign_offs_person_id_version_id", "sign_offs", ["person_id", "version_id"])
    op.create_index("ix_sign_offs_version_id", "sign_offs", ["version_id"])
    op.create_table(
        "withdrawals",
        sa.Column("id", ID, nullable=False),
        sa.Column("sign_off_id", ID, nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("withdrawn_at", INSTANT, nullable=False),
        sa.Column("withdrawn_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["sign_off_id"], ["sign_offs.id"], name="fk_withdrawals_sign_off_id"),
        sa.ForeignKeyConstraint(["withdrawn_by_id"], ["people.id"], name="fk_withdrawals_withdrawn_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_withdrawals"),
        sa.UniqueConstraint("sign_off_id", name="uq_withdrawals_sign_off_id"),
    )


def downgrade() -> None:
    op.drop_table("withdrawals")
    op.drop_table("sign_offs")
    op.drop_table("requirements")
    op.drop_table("induction_versions")
    op.drop_table("inductions")
