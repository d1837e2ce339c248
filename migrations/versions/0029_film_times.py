"""The lab's own developing times, and processes whose time is that of every film: of older ones nobody said so."""

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)
IN_USE = sa.text("withdrawn_at IS NULL")


def upgrade() -> None:
    op.add_column(
        "process_steps",
        sa.Column(
            "any_film",
            sa.Boolean(),
            nullable=False,
            server_default=sa.false(),
            comment="of a developer: its time is that of every film",
        ),
    )
    op.create_table(
        "film_times",
        sa.Column("id", ID, nullable=False),
        sa.Column("film", sa.String(80), nullable=False),
        sa.Column("exposure_index", sa.Integer(), nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False, comment="N of 1+N, × 1000"),
        sa.Column("temperature_milli_c", sa.Integer(), nullable=False, comment="°C × 1000"),
        sa.Column("agitation", sa.String(120), nullable=False),
        sa.Column("film_format", WORD, nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=False),
        sa.Column(
            "free_milli", sa.Integer(), nullable=False, comment="rolls through a litre that change nothing, × 1000"
        ),
        sa.Column(
            "longer_ppm",
            sa.Integer(),
            nullable=True,
            comment="longer for each further roll in a litre; none: not stated",
        ),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("entered_at", INSTANT, nullable=False),
        sa.Column("entered_by_id", ID, nullable=False),
        sa.Column("withdrawn_at", INSTANT, nullable=True),
        sa.CheckConstraint("exposure_index > 0", name=op.f("ck_film_times_exposure_index")),
        sa.CheckConstraint("water_parts_milli >= 0", name=op.f("ck_film_times_water_parts")),
        sa.CheckConstraint("seconds > 0", name=op.f("ck_film_times_seconds")),
        sa.CheckConstraint("free_milli >= 0", name=op.f("ck_film_times_free")),
        sa.CheckConstraint("longer_ppm >= 0 AND longer_ppm <= 1000000", name=op.f("ck_film_times_longer")),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name=op.f("fk_film_times_product_id")),
        sa.ForeignKeyConstraint(["entered_by_id"], ["people.id"], name=op.f("fk_film_times_entered_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_film_times")),
    )
    op.create_index(
        "uq_film_times_in_use",
        "film_times",
        [
            "product_id",
            "film",
            "exposure_index",
            "water_parts_milli",
            "temperature_milli_c",
            "agitation",
            "film_format",
        ],
        unique=True,
        sqlite_where=IN_USE,
        postgresql_where=IN_USE,
    )


def downgrade() -> None:
    op.drop_table("film_times")
    op.drop_column("process_steps", "any_film")
