"""Membership: until when, what was agreed to, whom to call in an emergency, what was paid; guests by the lab's rule."""

import sqlalchemy as sa
from alembic import op

revision = "0054"
down_revision = "0053"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
TABLES = (
    "membership_rules",
    "membership_terms",
    "agreements",
    "agreement_signatures",
    "emergency_contacts",
    "fee_notes",
)


def _of_person(table: str, *columns: str) -> list[sa.Constraint]:
    """The keys of a table about people: its own, and one to a person for each of these columns."""
    foreign = [
        sa.ForeignKeyConstraint([column], ["people.id"], name=op.f(f"fk_{table}_{column}")) for column in columns
    ]
    return [*foreign, sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))]


def upgrade() -> None:
    op.create_table(
        "membership_rules",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(
            "asks_term", sa.Boolean(), nullable=False, comment="a membership that holds, of who has no other role"
        ),
        sa.Column("asks_agreement", sa.Boolean(), nullable=False),
        sa.Column("asks_contact", sa.Boolean(), nullable=False, comment="whom to call in an emergency"),
        sa.Column("keeps_fees", sa.Boolean(), nullable=False),
        sa.Column("most_guests", sa.Integer(), nullable=False, comment="on one booking"),
        sa.CheckConstraint("id = 1", name=op.f("ck_membership_rules_only_one")),
        sa.CheckConstraint("most_guests >= 0 AND most_guests <= 20", name=op.f("ck_membership_rules_most_guests")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_membership_rules")),
    )
    op.create_table(
        "membership_terms",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=True, comment="the last day it holds; none: until it is ended"),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.Column("withdrawn_at", INSTANT, nullable=True),
        sa.Column("withdrawn_by_id", KEY, nullable=True),
        sa.CheckConstraint("ends_on >= starts_on", name=op.f("ck_membership_terms_days")),
        sa.CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name=op.f("ck_membership_terms_withdrawn")
        ),
        *_of_person("membership_terms", "person_id", "recorded_by_id", "withdrawn_by_id"),
    )
    op.create_index(op.f("ix_membership_terms_person_id"), "membership_terms", ["person_id"])
    op.create_index(op.f("ix_membership_terms_ends_on"), "membership_terms", ["ends_on"])
    op.create_table(
        "agreements",
        sa.Column("id", KEY, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("sign_again", sa.Boolean(), nullable=False, comment="whoever signed an earlier version signs again"),
        sa.Column("issued_at", INSTANT, nullable=False),
        sa.Column("issued_by_id", KEY, nullable=False),
        *_of_person("agreements", "issued_by_id"),
        sa.UniqueConstraint("number", name=op.f("uq_agreements_number")),
    )
    op.create_table(
        "agreement_signatures",
        sa.Column("id", KEY, nullable=False),
        sa.Column("agreement_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("paper", sa.String(200), nullable=False, comment="where the signed paper is kept"),
        sa.Column("signed_at", INSTANT, nullable=False, comment="entered"),
        sa.Column("recorded_by_id", KEY, nullable=False),
        sa.CheckConstraint("(paper = '') = (recorded_by_id = person_id)", name=op.f("ck_agreement_signatures_paper")),
        sa.ForeignKeyConstraint(["agreement_id"], ["agreements.id"], name=op.f("fk_agreement_signatures_agreement_id")),
        *_of_person("agreement_signatures", "person_id", "recorded_by_id"),
        sa.UniqueConstraint("agreement_id", "person_id", name=op.f("uq_agreement_signatures_agreement_id_person_id")),
    )
    op.create_index(op.f("ix_agreement_signatures_person_id"), "agreement_signatures", ["person_id"])
    op.create_table(
        "emergency_contacts",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("telephone", sa.String(40), nullable=False),
        sa.Column("stated_at", INSTANT, nullable=False),
        *_of_person("emergency_contacts", "person_id"),
        sa.UniqueConstraint("person_id", name=op.f("uq_emergency_contacts_person_id")),
    )
    op.create_table(
        "fee_notes",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("paid_until", sa.Date(), nullable=True),
        sa.Column("hours_left", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(200), nullable=False),
        sa.Column("noted_at", INSTANT, nullable=False),
        sa.Column("noted_by_id", KEY, nullable=False),
        sa.CheckConstraint("hours_left >= 0", name=op.f("ck_fee_notes_hours_left")),
        sa.CheckConstraint("paid_until IS NOT NULL OR hours_left IS NOT NULL", name=op.f("ck_fee_notes_something")),
        *_of_person("fee_notes", "person_id", "noted_by_id"),
    )
    op.create_index(op.f("ix_fee_notes_person_id"), "fee_notes", ["person_id"])


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
