"""Under 18: a guardian's permission, a supervisor, findings given, rooms looked into; and guests."""

import sqlalchemy as sa
from alembic import op

revision = "0044"
down_revision = "0043"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
_EITHER = "two adults, or a room looked into"


def upgrade() -> None:
    op.add_column("lab", sa.Column("safeguarding", sa.String(40), nullable=False, server_default=_EITHER))
    looked_into = sa.Column(
        "looked_into",
        sa.String(40),
        nullable=False,
        server_default="not stated",
        comment="people outside can look into it while work goes on",
    )
    op.add_column("rooms", looked_into)
    along = "people who come along; they work with nothing"
    op.add_column("bookings", sa.Column("guests", sa.Integer(), nullable=False, server_default="0", comment=along))
    op.create_table(
        "supervisions",
        sa.Column("id", KEY, nullable=False),
        sa.Column("booking_id", KEY, nullable=False),
        sa.Column("supervisor_id", KEY, nullable=True),
        sa.Column("second_adult_id", KEY, nullable=True),
        sa.Column(
            "comes",
            sa.Boolean(),
            nullable=False,
            comment="the supervisor said so, for this booking, and needs no place of their own",
        ),
        sa.Column("arrived_at", INSTANT, nullable=True, comment="the supervisor, for this booking"),
        sa.Column("left_at", INSTANT, nullable=True),
        sa.Column("suspended_at", INSTANT, nullable=True, comment="as people were told; empty: it stands"),
        sa.CheckConstraint(
            "left_at IS NULL OR arrived_at IS NOT NULL", name=op.f("ck_supervisions_left_after_arrival")
        ),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name=op.f("fk_supervisions_booking_id")),
        sa.ForeignKeyConstraint(["supervisor_id"], ["people.id"], name=op.f("fk_supervisions_supervisor_id")),
        sa.ForeignKeyConstraint(["second_adult_id"], ["people.id"], name=op.f("fk_supervisions_second_adult_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supervisions")),
        sa.UniqueConstraint("booking_id", name=op.f("uq_supervisions_booking_id")),
    )
    for column in ("supervisor_id", "second_adult_id"):
        op.create_index(op.f(f"ix_supervisions_{column}"), "supervisions", [column])
    op.create_table(
        "guardian_permissions",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("guardian", sa.String(120), nullable=False, comment="who signed it"),
        sa.Column("given_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False, comment="the last day it holds"),
        sa.Column("paper", sa.String(200), nullable=False, comment="where the signed paper is kept"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("withdrawn_at", INSTANT, nullable=True),
        sa.Column("withdrawn_by_id", KEY, nullable=True),
        sa.CheckConstraint("given_on <= ends_on", name=op.f("ck_guardian_permissions_days")),
        sa.CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name=op.f("ck_guardian_permissions_withdrawn")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_guardian_permissions_person_id")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name=op.f("fk_guardian_permissions_recorded_by_id")),
        sa.ForeignKeyConstraint(
            ["withdrawn_by_id"], ["people.id"], name=op.f("fk_guardian_permissions_withdrawn_by_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_guardian_permissions")),
    )
    op.create_index(op.f("ix_guardian_permissions_person_id"), "guardian_permissions", ["person_id"])
    op.create_table(
        "risk_findings_given",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False, comment="who is of school age"),
        sa.Column("version_id", KEY, nullable=False),
        sa.Column("given_to", sa.String(120), nullable=False),
        sa.Column("given_at", INSTANT, nullable=False),
        sa.Column("given_by_id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_risk_findings_given_person_id")),
        sa.ForeignKeyConstraint(["version_id"], ["risk_versions.id"], name=op.f("fk_risk_findings_given_version_id")),
        sa.ForeignKeyConstraint(["given_by_id"], ["people.id"], name=op.f("fk_risk_findings_given_given_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_risk_findings_given")),
    )
    op.create_index(
        op.f("ix_risk_findings_given_person_id_version_id"), "risk_findings_given", ["person_id", "version_id"]
    )


def downgrade() -> None:
    op.drop_table("risk_findings_given")
    op.drop_table("guardian_permissions")
    op.drop_table("supervisions")
    op.drop_column("bookings", "guests")
    op.drop_column("rooms", "looked_into")
    op.drop_column("lab", "safeguarding")
