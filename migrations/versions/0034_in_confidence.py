"""What is told in confidence: what somebody keeps away from, talks and what was agreed, skin checks."""

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0033"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "personal_restrictions",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("family", sa.String(40), nullable=True, comment="none: no substance is named"),
        sa.Column("note", sa.String(300), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True, comment="the last day it holds"),
        sa.Column("entered_at", INSTANT, nullable=False),
        sa.Column("entered_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_personal_restrictions_person_id")),
        sa.ForeignKeyConstraint(["entered_by_id"], ["people.id"], name=op.f("fk_personal_restrictions_entered_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_personal_restrictions")),
        sa.UniqueConstraint("person_id", "family", name=op.f("uq_personal_restrictions_person_id_family")),
    )
    op.create_table(
        "confidential_talks",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("asked_at", INSTANT, nullable=False),
        sa.Column("held_at", INSTANT, nullable=True),
        sa.Column("agreed", sa.Text(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True, comment="the last day that what was agreed holds"),
        sa.CheckConstraint("agreed = '' OR ends_on IS NOT NULL", name=op.f("ck_confidential_talks_agreed_ends")),
        sa.CheckConstraint("agreed = '' OR held_at IS NOT NULL", name=op.f("ck_confidential_talks_agreed_held")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_confidential_talks_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_confidential_talks")),
    )
    op.create_index("ix_confidential_talks_person_id", "confidential_talks", ["person_id"])
    op.create_table(
        "skin_checks",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("last_on", sa.Date(), nullable=True, comment="none: not checked yet"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_skin_checks_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_skin_checks")),
        sa.UniqueConstraint("person_id", name=op.f("uq_skin_checks_person_id")),
    )


def downgrade() -> None:
    for table in ("skin_checks", "confidential_talks", "personal_restrictions"):
        op.drop_table(table)
