"""A message has its kind and leads to a page; people choose what they are written; one can be left unsent.

The same cause tells several people, each once.
"""

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")

_OLD_COMMENT = "what caused it; the same cause never mails twice"
_NEW_COMMENT = "its cause, of which nobody is told twice"


def upgrade() -> None:
    with op.batch_alter_table("outgoing_mail") as table:
        table.add_column(
            sa.Column("kind", sa.String(40), nullable=False, server_default="", comment="empty: older than kinds")
        )
        table.add_column(
            sa.Column("path", sa.String(200), nullable=False, server_default="", comment="the page that it leads to")
        )
        table.add_column(sa.Column("put_aside_at", INSTANT, nullable=True, comment="a manager said: leave it unsent"))
        table.drop_constraint("uq_outgoing_mail_reason_key", type_="unique")
        table.create_unique_constraint(op.f("uq_outgoing_mail_reason_key_person_id"), ["reason_key", "person_id"])
        table.alter_column("reason_key", existing_type=sa.String(120), comment=_NEW_COMMENT)
    with op.batch_alter_table("outgoing_mail") as table:
        for name in ("kind", "path"):
            table.alter_column(name, server_default=None)
    op.create_table(
        "unwanted_mail",
        sa.Column("id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_unwanted_mail_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_unwanted_mail"),
        sa.UniqueConstraint("person_id", "kind", name=op.f("uq_unwanted_mail_person_id_kind")),
    )


def downgrade() -> None:
    op.drop_table("unwanted_mail")
    op.execute("DELETE FROM outgoing_mail WHERE id NOT IN (SELECT MIN(id) FROM outgoing_mail GROUP BY reason_key)")
    with op.batch_alter_table("outgoing_mail") as table:
        for name in ("kind", "path", "put_aside_at"):
            table.drop_column(name)
        table.drop_constraint("uq_outgoing_mail_reason_key_person_id", type_="unique")
        table.create_unique_constraint(op.f("uq_outgoing_mail_reason_key"), ["reason_key"])
        table.alter_column("reason_key", existing_type=sa.String(120), comment=_OLD_COMMENT)
