"""The outbox."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "outgoing_mail",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column(
            "reason_key",
            sa.String(length=120),
            nullable=False,
            comment="what caused it; the same cause never mails twice",
        ),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("send_at", INSTANT, nullable=False, comment="not before this"),
        sa.Column("sending_since", INSTANT, nullable=True),
        sa.Column("sent_at", INSTANT, nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("last_error", sa.String(length=300), nullable=False),
        sa.Column("given_up_at", INSTANT, nullable=True),
        sa.CheckConstraint("tries >= 0", name=op.f("ck_outgoing_mail_tries")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_outgoing_mail_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_outgoing_mail"),
        sa.UniqueConstraint("reason_key", name="uq_outgoing_mail_reason_key"),
    )
    op.create_index("ix_outgoing_mail_person_id", "outgoing_mail", ["person_id"])
    op.create_index("ix_outgoing_mail_sent_at_send_at", "outgoing_mail", ["sent_at", "send_at"])


def downgrade() -> None:
    op.drop_table("outgoing_mail")
