"""Processes that can be changed, data of developers, the lab's tanks and trays, and rotations of two-bath fixers."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    """Columns carry their rule with them: SQLite cannot add one to a table that stands."""
    op.add_column(
        "products",
        sa.Column(
            "q10_milli",
            sa.Integer(),
            sa.CheckConstraint("q10_milli >= 1000 AND q10_milli <= 5000", name=op.f("ck_products_q10")),
            nullable=True,
            comment="of a developer: factor on the rate for 10 °C, × 1000",
        ),
    )
    op.add_column(
        "products",
        sa.Column("low_milli_c", sa.Integer(), nullable=True, comment="coldest its times hold for, °C × 1000"),
    )
    op.add_column(
        "products",
        sa.Column(
            "high_milli_c",
            sa.Integer(),
            sa.CheckConstraint("low_milli_c < high_milli_c", name=op.f("ck_products_celsius")),
            nullable=True,
            comment="warmest its times hold for, °C × 1000",
        ),
    )
    op.add_column(
        "products",
        sa.Column(
            "least_seconds",
            sa.Integer(),
            sa.CheckConstraint("least_seconds > 0", name=op.f("ck_products_least_seconds")),
            nullable=True,
            comment="shortest time that still develops evenly",
        ),
    )
    op.add_column(
        "products",
        sa.Column(
            "least_concentrate_ul",
            sa.Integer(),
            sa.CheckConstraint("least_concentrate_ul > 0", name=op.f("ck_products_least_concentrate")),
            nullable=True,
            comment="undiluted, for each 80 in² of film",
        ),
    )
    op.add_column(
        "products",
        sa.Column(
            "developing_source",
            sa.String(length=200),
            nullable=False,
            server_default="",
            comment="where factor, range, least time and least concentrate are given",
        ),
    )
    op.add_column("processes", sa.Column("version", sa.Integer(), nullable=False, server_default="1"))
    op.add_column("processes", sa.Column("changed_at", INSTANT, nullable=True))
    op.add_column(
        "process_steps",
        sa.Column(
            "tolerance_milli_c",
            sa.Integer(),
            sa.CheckConstraint("tolerance_milli_c > 0", name=op.f("ck_process_steps_tolerance")),
            nullable=True,
            comment="how far off it may be, °C × 1000",
        ),
    )
    op.add_column(
        "process_steps",
        sa.Column("air", sa.String(length=300), nullable=False, server_default="", comment="lid and ventilation"),
    )
    op.create_table(
        "working_vessels",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("capacity_ul", sa.BigInteger(), nullable=False, comment="the most it takes in use"),
        sa.Column("length_mm", sa.Integer(), nullable=True, comment="inside, of a tray"),
        sa.Column("width_mm", sa.Integer(), nullable=True),
        sa.Column("depth_mm", sa.Integer(), nullable=True, comment="of solution, as it is usually filled"),
        sa.Column("source", sa.String(length=200), nullable=False, comment="of its fills"),
        sa.Column("closed_at", INSTANT, nullable=True, comment="out of use"),
        sa.CheckConstraint("capacity_ul > 0", name=op.f("ck_working_vessels_capacity")),
        sa.CheckConstraint(
            "(kind = 'tray') = (length_mm IS NOT NULL)", name=op.f("ck_working_vessels_tray_has_length")
        ),
        sa.CheckConstraint(
            "(length_mm IS NULL) = (width_mm IS NULL)", name=op.f("ck_working_vessels_length_and_width")
        ),
        sa.CheckConstraint(
            "(length_mm IS NULL) = (depth_mm IS NULL)", name=op.f("ck_working_vessels_length_and_depth")
        ),
        sa.PrimaryKeyConstraint("id", name="pk_working_vessels"),
        sa.UniqueConstraint("name", name="uq_working_vessels_name"),
    )
    op.create_table(
        "vessel_fills",
        sa.Column("id", ID, nullable=False),
        sa.Column("vessel_id", ID, nullable=False),
        sa.Column("size", sa.String(length=20), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("volume_ul", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("count >= 1", name=op.f("ck_vessel_fills_count")),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_vessel_fills_volume")),
        sa.ForeignKeyConstraint(["vessel_id"], ["working_vessels.id"], name="fk_vessel_fills_vessel_id"),
        sa.PrimaryKeyConstraint("id", name="pk_vessel_fills"),
        sa.UniqueConstraint("vessel_id", "size", "count", name="uq_vessel_fills_vessel_id_size_count"),
    )
    op.create_table(
        "rotations",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column(
            "number", sa.Integer(), nullable=False, comment="how many there were since both baths were mixed fresh"
        ),
        sa.Column("film_mm2", sa.BigInteger(), nullable=False),
        sa.Column("rc_mm2", sa.BigInteger(), nullable=False),
        sa.Column("fibre_mm2", sa.BigInteger(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.Column("rotated_at", INSTANT, nullable=False),
        sa.Column("rotated_by_id", ID, nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_rotations_number")),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name="fk_rotations_bath_id"),
        sa.ForeignKeyConstraint(["rotated_by_id"], ["people.id"], name="fk_rotations_rotated_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_rotations"),
        sa.UniqueConstraint("bath_id", name="uq_rotations_bath_id"),
    )


def downgrade() -> None:
    op.drop_table("rotations")
    op.drop_table("vessel_fills")
    op.drop_table("working_vessels")
    for column in ("air", "tolerance_milli_c"):
        op.drop_column("process_steps", column)
    for column in ("changed_at", "version"):
        op.drop_column("processes", column)
    for column in (
        "developing_source",
        "least_concentrate_ul",
        "least_seconds",
        "high_milli_c",
        "low_milli_c",
        "q10_milli",
    ):
        op.drop_column("products", column)
