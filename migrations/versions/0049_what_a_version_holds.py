"""A version of an induction: hazards covered, pictures, a quiz, practice before a witness, a shorter refresher."""

import sqlalchemy as sa
from alembic import op

revision = "0049"
down_revision = "0048"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
# Others point at both tables, so SQLite cannot build them anew: columns come one by one, each with its own rule.
COLUMNS = {
    "induction_versions": (
        ("covers", "VARCHAR(120) DEFAULT '' NOT NULL", "hazards its text teaches about"),
        ("practice", "TEXT DEFAULT '' NOT NULL", "what is shown before a witness, one item a line"),
        ("refresher", "TEXT DEFAULT '' NOT NULL", "the shorter text for who held it before"),
        (
            "refresher_days",
            "INTEGER CONSTRAINT ck_induction_versions_refresher_days CHECK (refresher_days >= 0)",
            "so long after it lapsed the refresher will do",
        ),
        ("quiz", "TEXT DEFAULT '' NOT NULL", "questions, each with its answers under it"),
        (
            "pass_mark",
            "INTEGER CONSTRAINT ck_induction_versions_pass_mark CHECK (pass_mark > 0)",
            "right answers that pass the quiz",
        ),
    ),
    "sign_offs": (
        ("is_refresher", "BOOLEAN DEFAULT FALSE NOT NULL", "taught by the shorter text"),
        ("practice_seen_at", "{instant}", "entered"),
        (
            "practice_seen_by_id",
            "{key} CONSTRAINT fk_sign_offs_practice_seen_by_id REFERENCES people (id)"
            " CONSTRAINT ck_sign_offs_practice_seen"
            " CHECK ((practice_seen_at IS NULL) = (practice_seen_by_id IS NULL))"
            " CONSTRAINT ck_sign_offs_practice_witness CHECK (practice_seen_by_id <> person_id)",
            "",
        ),
    ),
}


def upgrade() -> None:
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    types = {"instant": "TIMESTAMP WITH TIME ZONE", "key": "BIGINT"}
    if is_sqlite:
        types = {"instant": "VARCHAR(27)", "key": "INTEGER"}
    for table, columns in COLUMNS.items():
        for name, kind, comment in columns:
            op.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind.format(**types)}")
            if comment and not is_sqlite:
                op.execute(f"COMMENT ON COLUMN {table}.{name} IS '{comment}'")
    op.create_table(
        "induction_pictures",
        sa.Column("id", KEY, nullable=False),
        sa.Column("induction_id", KEY, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("shows", sa.String(200), nullable=False, comment="in words, for who cannot see it"),
        sa.Column("media_type", sa.String(40), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False, comment="SHA-256 of content"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("added_at", INSTANT, nullable=False),
        sa.CheckConstraint("width > 0 AND height > 0", name=op.f("ck_induction_pictures_size")),
        sa.ForeignKeyConstraint(["induction_id"], ["inductions.id"], name=op.f("fk_induction_pictures_induction_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_induction_pictures")),
        sa.UniqueConstraint("induction_id", "number", name=op.f("uq_induction_pictures_induction_id_number")),
    )
    op.create_table(
        "quiz_attempts",
        sa.Column("id", KEY, nullable=False),
        sa.Column("version_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("answers", sa.String(80), nullable=False, comment="the number of each answer given, in order"),
        sa.Column("right_answers", sa.Integer(), nullable=False),
        sa.Column("questions", sa.Integer(), nullable=False),
        sa.Column("pass_mark", sa.Integer(), nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.CheckConstraint(
            "right_answers >= 0 AND right_answers <= questions", name=op.f("ck_quiz_attempts_right_answers")
        ),
        sa.CheckConstraint("pass_mark > 0 AND pass_mark <= questions", name=op.f("ck_quiz_attempts_pass_mark")),
        sa.ForeignKeyConstraint(["version_id"], ["induction_versions.id"], name=op.f("fk_quiz_attempts_version_id")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_quiz_attempts_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quiz_attempts")),
    )
    op.create_index(op.f("ix_quiz_attempts_person_id_version_id"), "quiz_attempts", ["person_id", "version_id"])
    _cover_what_was_asked()


def _cover_what_was_asked() -> None:
    """What was asked by hazard so far was taught by the texts that stood."""
    asked: dict[int, set[str]] = {}
    connection = op.get_bind()
    for induction_id, hazard in connection.execute(
        sa.text("SELECT induction_id, hazard FROM requirements WHERE hazard IS NOT NULL")
    ):
        asked.setdefault(induction_id, set()).add(hazard)
    for induction_id, hazards in asked.items():
        connection.execute(
            sa.text("UPDATE induction_versions SET covers = :covers WHERE induction_id = :induction"),
            {"covers": ", ".join(sorted(hazards)), "induction": induction_id},
        )


def downgrade() -> None:
    op.drop_table("quiz_attempts")
    op.drop_table("induction_pictures")
    for table, columns in COLUMNS.items():
        for name, _, _ in reversed(columns):
            op.execute(f"ALTER TABLE {table} DROP COLUMN {name}")
