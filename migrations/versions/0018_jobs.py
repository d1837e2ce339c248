"""Jobs in the background."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "jobs",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("parameters", sa.Text(), nullable=False, comment="canonical JSON"),
        sa.Column(
            "once_key", sa.String(length=120), nullable=True, comment="while a job is kept, its key queues no other"
        ),
        sa.Column("asked_by_id", ID, nullable=True, comment="empty: the lab"),
        sa.Column("asked_at", INSTANT, nullable=False),
        sa.Column("due_at", INSTANT, nullable=False, comment="not before this"),
        sa.Column("state", sa.String(length=40), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False, comment="begun since it last went well"),
        sa.Column("lease_token", sa.String(length=32), nullable=True),
        sa.Column("leased_until", INSTANT, nullable=True),
        sa.Column("steps_done", ID, nullable=False),
        sa.Column("steps_of", ID, nullable=False, comment="0 while nobody knows"),
        sa.Column("doing", sa.String(length=120), nullable=False),
        sa.Column("says", sa.String(length=300), nullable=False, comment="what it found when it last went well"),
        sa.Column("last_error", sa.String(length=300), nullable=False),
        sa.Column("started_at", INSTANT, nullable=True),
        sa.Column("finished_at", INSTANT, nullable=True),
        sa.Column("file_name", sa.String(length=120), nullable=True),
        sa.Column("media_type", sa.String(length=120), nullable=True),
        sa.Column("file_size", ID, nullable=True),
        sa.Column("digest", sa.String(length=64), nullable=True, comment="SHA-256 of the file"),
        sa.CheckConstraint("tries >= 0", name=op.f("ck_jobs_tries")),
        sa.CheckConstraint("steps_done >= 0 AND steps_of >= 0", name=op.f("ck_jobs_steps")),
        sa.CheckConstraint("(state = 'running') = (lease_token IS NOT NULL)", name=op.f("ck_jobs_token_while_running")),
        sa.CheckConstraint("(lease_token IS NULL) = (leased_until IS NULL)", name=op.f("ck_jobs_lease_whole")),
        sa.CheckConstraint(
            "state NOT IN ('done', 'failed') OR finished_at IS NOT NULL", name=op.f("ck_jobs_end_dated")
        ),
        sa.CheckConstraint(
            "(file_name IS NULL) = (digest IS NULL) AND (file_name IS NULL) = (media_type IS NULL)"
            " AND (file_name IS NULL) = (file_size IS NULL)",
            name=op.f("ck_jobs_file_whole"),
        ),
        sa.ForeignKeyConstraint(["asked_by_id"], ["people.id"], name="fk_jobs_asked_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.UniqueConstraint("once_key", name="uq_jobs_once_key"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_jobs_asked_by_id", "jobs", ["asked_by_id"])
    op.create_index("ix_jobs_state_due_at", "jobs", ["state", "due_at"])


def downgrade() -> None:
    op.drop_table("jobs")
