"""What is known of somebody's age, and whether people under 18 come to the lab."""

import sqlalchemy as sa
from alembic import op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.add_column("lab", sa.Column("admits_under_18", sa.String(40), nullable=False, server_default="not stated"))
    op.create_table(
        "age_statements",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column(
            "under_18_until", sa.Date(), nullable=True, comment="the first day on which it is over; none: 18 or over"
        ),
        sa.Column(
            "school_age_until", sa.Date(), nullable=True, comment="likewise; none, of who is under 18: not stated"
        ),
        sa.Column("stated_at", INSTANT, nullable=False),
        sa.Column("stated_by_id", KEY, nullable=False),
        sa.CheckConstraint(
            "school_age_until IS NULL OR school_age_until <= under_18_until", name=op.f("ck_age_statements_school_age")
        ),
        sa.CheckConstraint(
            "under_18_until IS NOT NULL OR school_age_until IS NULL", name=op.f("ck_age_statements_of_school_age")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_age_statements_person_id")),
        sa.ForeignKeyConstraint(["stated_by_id"], ["people.id"], name=op.f("fk_age_statements_stated_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_age_statements")),
        sa.UniqueConstraint("person_id", name=op.f("uq_age_statements_person_id")),
    )


def downgrade() -> None:
    op.drop_table("age_statements")
    op.drop_column("lab", "admits_under_18")
