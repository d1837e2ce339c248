"""Competences: granted by a person to a person, before a witness, until a day. A lab upgraded has none."""

import sqlalchemy as sa
from alembic import op

revision = "0043"
down_revision = "0042"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
TABLE = "competence_grants"
OF_PEOPLE = ("person_id", "granted_by_id", "witness_id", "revoked_by_id")


def upgrade() -> None:
    op.create_table(
        TABLE,
        sa.Column("id", ID, nullable=False),
        sa.Column("competence", sa.String(40), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("granted_by_id", ID, nullable=False),
        sa.Column("may_grant", sa.Boolean(), nullable=False, comment="may grant it to others"),
        sa.Column("happened_on", sa.Date(), nullable=False, comment="the day on which it was shown"),
        sa.Column("until", sa.Date(), nullable=False, comment="the last day it holds"),
        sa.Column("granted_at", INSTANT, nullable=False, comment="entered"),
        sa.Column("witness_id", ID, nullable=True),
        sa.Column("witnessed_at", INSTANT, nullable=True),
        sa.Column("unwitnessed_because", sa.String(200), nullable=False),
        sa.Column("revoked_at", INSTANT, nullable=True),
        sa.Column("revoked_by_id", ID, nullable=True),
        sa.Column("revoked_because", sa.String(200), nullable=False),
        sa.CheckConstraint("until >= happened_on", name=op.f("ck_competence_grants_days")),
        sa.CheckConstraint(
            "(witness_id IS NULL) = (unwitnessed_because <> '')", name=op.f("ck_competence_grants_witness")
        ),
        sa.CheckConstraint(
            "witnessed_at IS NULL OR witness_id IS NOT NULL", name=op.f("ck_competence_grants_witnessed")
        ),
        sa.CheckConstraint(
            "witness_id <> person_id AND witness_id <> granted_by_id", name=op.f("ck_competence_grants_third_person")
        ),
        sa.CheckConstraint("(revoked_at IS NULL) = (revoked_by_id IS NULL)", name=op.f("ck_competence_grants_revoked")),
        sa.CheckConstraint(
            "(revoked_at IS NULL) = (revoked_because = '')", name=op.f("ck_competence_grants_revoked_because")
        ),
        *(
            sa.ForeignKeyConstraint([column], ["people.id"], name=op.f(f"fk_competence_grants_{column}"))
            for column in OF_PEOPLE
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_competence_grants")),
    )
    op.create_index("ix_competence_grants_person_id_competence", TABLE, ["person_id", "competence"])
    op.create_index("ix_competence_grants_until", TABLE, ["until"])


def downgrade() -> None:
    op.drop_table(TABLE)
