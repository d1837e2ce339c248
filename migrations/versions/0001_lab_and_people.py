"""The lab, people and their accounts."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "lab",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("address", sa.String(length=300), nullable=False),
        sa.Column("code_prefix", sa.String(length=4), nullable=False),
        sa.Column("timezone", sa.String(length=64), nullable=False),
        sa.Column("nation", sa.String(length=40), nullable=False),
        sa.Column("paper_size", WORD, nullable=False),
        sa.Column("emergency", sa.String(length=300), nullable=False, comment="who to call; printed on labels"),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_lab_only_one")),
        sa.PrimaryKeyConstraint("id", name="pk_lab"),
    )
    op.create_table(
        "people",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("email", sa.String(length=254), nullable=False, comment="lower case"),
        sa.Column("password_hash", sa.String(length=200), nullable=True),
        sa.Column("session_version", sa.Integer(), nullable=False, comment="raised to end every open session"),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("left_at", INSTANT, nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("email", name="uq_people_email"),
    )
    op.create_table(
        "person_roles",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("role", WORD, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_person_roles_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_person_roles"),
        sa.UniqueConstraint("person_id", "role", name="uq_person_roles_person_id_role"),
    )
    op.create_table(
        "entry_links",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("purpose", WORD, nullable=False),
        sa.Column("token_digest", sa.String(length=64), nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("expires_at", INSTANT, nullable=False),
        sa.Column("used_at", INSTANT, nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_entry_links_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_entry_links"),
        sa.UniqueConstraint("token_digest", name="uq_entry_links_token_digest"),
    )
    op.create_index("ix_entry_links_person_id", "entry_links", ["person_id"])
    op.create_table(
        "sign_in_attempts",
        sa.Column("id", ID, nullable=False),
        sa.Column("email", sa.String(length=254), nullable=False),
        sa.Column("address", sa.String(length=64), nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("succeeded", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_attempts"),
    )
    op.create_index("ix_sign_in_attempts_address_at", "sign_in_attempts", ["address", "at"])
    op.create_index("ix_sign_in_attempts_email_at", "sign_in_attempts", ["email", "at"])


def downgrade() -> None:
    op.drop_table("sign_in_attempts")
    op.drop_table("entry_links")
    op.drop_table("person_roles")
    op.drop_table("people")
    op.drop_table("lab")
