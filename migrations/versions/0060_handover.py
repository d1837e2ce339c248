"""What one technician leaves to the next: notes until they are read, and film nobody has come for."""

import sqlalchemy as sa
from alembic import op

revision = "0060"
down_revision = "0059"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "handover_notes",
        sa.Column("id", ID, nullable=False),
        sa.Column("text", sa.String(2_000), nullable=False),
        sa.Column("written_at", INSTANT, nullable=False),
        sa.Column("written_by_id", ID, nullable=False),
        sa.Column("read_at", INSTANT, nullable=True),
        sa.Column("read_by_id", ID, nullable=True),
        sa.CheckConstraint("(read_at IS NULL) = (read_by_id IS NULL)", name=op.f("ck_handover_notes_read_by")),
        sa.CheckConstraint("read_by_id <> written_by_id", name=op.f("ck_handover_notes_read_by_another")),
        sa.ForeignKeyConstraint(["written_by_id"], ["people.id"], name=op.f("fk_handover_notes_written_by_id")),
        sa.ForeignKeyConstraint(["read_by_id"], ["people.id"], name=op.f("fk_handover_notes_read_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_handover_notes")),
    )
    op.create_index("ix_handover_notes_read_at", "handover_notes", ["read_at"])
    op.create_table(
        "left_films",
        sa.Column("id", ID, nullable=False),
        sa.Column("what", sa.String(200), nullable=False),
        sa.Column("whereabouts", sa.String(200), nullable=False),
        sa.Column("owner_id", ID, nullable=True),
        sa.Column("owner_words", sa.String(200), nullable=False, comment="the name on it; empty: none"),
        sa.Column("found_on", sa.Date(), nullable=False),
        sa.Column("found_by_id", ID, nullable=False),
        sa.Column("gone_at", INSTANT, nullable=True),
        sa.Column("gone_by_id", ID, nullable=True),
        sa.Column("gone_how", sa.String(200), nullable=False),
        sa.CheckConstraint("(gone_at IS NULL) = (gone_by_id IS NULL)", name=op.f("ck_left_films_gone_by")),
        sa.CheckConstraint("(gone_at IS NULL) = (gone_how = '')", name=op.f("ck_left_films_gone_how")),
        sa.CheckConstraint("owner_id IS NULL OR owner_words = ''", name=op.f("ck_left_films_one_owner")),
        sa.ForeignKeyConstraint(["owner_id"], ["people.id"], name=op.f("fk_left_films_owner_id")),
        sa.ForeignKeyConstraint(["found_by_id"], ["people.id"], name=op.f("fk_left_films_found_by_id")),
        sa.ForeignKeyConstraint(["gone_by_id"], ["people.id"], name=op.f("fk_left_films_gone_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_left_films")),
    )
    op.create_index("ix_left_films_gone_at", "left_films", ["gone_at"])
    op.create_index("ix_left_films_owner_id", "left_films", ["owner_id"])


def downgrade() -> None:
    op.drop_table("left_films")
    op.drop_table("handover_notes")
