"""The record, codes, submissions and issued documents."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


# The application may add entries and never change or take them away; payload and salt may be emptied when the law asks.
SQLITE_TRIGGERS = (
    """CREATE TRIGGER record_entries_no_update BEFORE UPDATE ON record_entries
    WHEN NOT (NEW.payload IS NULL AND NEW.salt IS NULL AND NEW.number = OLD.number AND NEW.at = OLD.at
      AND NEW.digest = OLD.digest AND NEW.previous_hash = OLD.previous_hash AND NEW.hash = OLD.hash)
    BEGIN SELECT RAISE(ABORT, 'record_entries_no_update'); END""",
    """CREATE TRIGGER record_entries_no_delete BEFORE DELETE ON record_entries
    BEGIN SELECT RAISE(ABORT, 'record_entries_no_delete'); END""",
)
POSTGRESQL_TRIGGERS = (
    """CREATE FUNCTION labsys_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN RAISE EXCEPTION '% refused', TG_NAME USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_NAME; END $$""",
    """CREATE TRIGGER record_entries_no_update BEFORE UPDATE ON record_entries FOR EACH ROW
    WHEN (NOT (NEW.payload IS NULL AND NEW.salt IS NULL AND NEW.number = OLD.number AND NEW.at = OLD.at
      AND NEW.digest = OLD.digest AND NEW.previous_hash = OLD.previous_hash AND NEW.hash = OLD.hash))
    EXECUTE FUNCTION labsys_refuse()""",
    """CREATE TRIGGER record_entries_no_delete BEFORE DELETE ON record_entries FOR EACH ROW
    EXECUTE FUNCTION labsys_refuse()""",
    """CREATE TRIGGER record_entries_no_truncate BEFORE TRUNCATE ON record_entries FOR EACH STATEMENT
    EXECUTE FUNCTION labsys_refuse()""",
)


def upgrade() -> None:
    op.create_table(
        "record_entries",
        sa.Column("number", ID, autoincrement=False, nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=True),
        sa.Column("payload", sa.Text(), nullable=True, comment="canonical JSON: act, about, by, facts"),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("previous_hash", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_record_entries"),
    )
    op.create_index("ix_record_entries_at", "record_entries", ["at"])
    op.create_table(
        "record_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", ID, nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_record_head_only_one")),
        sa.PrimaryKeyConstraint("id", name="pk_record_head"),
    )
    op.create_table(
        "codes",
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("row_id", ID, nullable=False),
        sa.PrimaryKeyConstraint("code", name="pk_codes"),
        sa.UniqueConstraint("kind", "row_id", name="uq_codes_kind_row_id"),
    )
    op.create_table(
        "code_counters",
        sa.Column("kind", WORD, nullable=False),
        sa.Column("last", ID, nullable=False),
        sa.PrimaryKeyConstraint("kind", name="pk_code_counters"),
    )
    op.create_table(
        "submissions",
        sa.Column("key", sa.String(length=36), nullable=False),
        sa.Column("act", sa.String(length=60), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("outcome_kind", sa.String(length=40), nullable=False),
        sa.Column("outcome_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_submissions_person_id"),
        sa.PrimaryKeyConstraint("key", name="pk_submissions"),
    )
    op.create_table(
        "issued_documents",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("parameters", sa.Text(), nullable=False, comment="canonical JSON"),
        sa.Column("issued_at", INSTANT, nullable=False),
        sa.Column("issued_by_id", ID, nullable=False),
        sa.Column("head_number", ID, nullable=False, comment="head of the record printed on the document"),
        sa.Column("head_hash", sa.String(length=64), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False, comment="SHA-256 of content"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["issued_by_id"], ["people.id"], name="fk_issued_documents_issued_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_issued_documents"),
    )
    op.create_index("ix_issued_documents_issued_at", "issued_documents", ["issued_at"])
    for statement in SQLITE_TRIGGERS if op.get_bind().dialect.name == "sqlite" else POSTGRESQL_TRIGGERS:
        op.execute(statement)


def downgrade() -> None:
    op.drop_table("issued_documents")
    op.drop_table("submissions")
    op.drop_table("code_counters")
    op.drop_table("codes")
    op.drop_table("record_head")
    op.drop_table("record_entries")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION labsys_refuse()")
