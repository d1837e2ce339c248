"""Waste: streams, containers, pours, quarantine, discharges and collections."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "waste_streams",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column(
            "code", sa.String(length=9), nullable=False, comment='List of Waste code as printed, such as "09 01 04*"'
        ),
        sa.PrimaryKeyConstraint("id", name="pk_waste_streams"),
        sa.UniqueConstraint("code", name="uq_waste_streams_code"),
        sa.UniqueConstraint("name", name="uq_waste_streams_name"),
    )
    op.create_table(
        "waste_containers",
        sa.Column("id", ID, nullable=False),
        sa.Column("vessel_id", ID, nullable=False),
        sa.Column("stream_id", ID, nullable=False),
        sa.Column("label", sa.String(length=20), nullable=False, comment="the code to scan"),
        sa.Column("place", sa.String(length=80), nullable=False),
        sa.Column("opened_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("collected_at", INSTANT, nullable=True),
        sa.ForeignKeyConstraint(["stream_id"], ["waste_streams.id"], name="fk_waste_containers_stream_id"),
        sa.ForeignKeyConstraint(["vessel_id"], ["vessels.id"], name="fk_waste_containers_vessel_id"),
        sa.PrimaryKeyConstraint("id", name="pk_waste_containers"),
        sa.UniqueConstraint("label", name="uq_waste_containers_label"),
        sa.UniqueConstraint("vessel_id", name="uq_waste_containers_vessel_id"),
    )
    op.create_index("ix_waste_containers_collected_at", "waste_containers", ["collected_at"])
    op.create_index("ix_waste_containers_stream_id", "waste_containers", ["stream_id"])
    op.create_table(
        "quarantines",
        sa.Column("id", ID, nullable=False),
        sa.Column("container_id", ID, nullable=False),
        sa.Column("reason", sa.String(length=400), nullable=False),
        sa.Column("advice", sa.String(length=600), nullable=False),
        sa.Column("started_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("released_at", INSTANT, nullable=True),
        sa.Column("released_by_id", ID, nullable=True),
        sa.Column("release_note", sa.String(length=400), nullable=False),
        sa.ForeignKeyConstraint(["container_id"], ["waste_containers.id"], name="fk_quarantines_container_id"),
        sa.ForeignKeyConstraint(["released_by_id"], ["people.id"], name="fk_quarantines_released_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_quarantines"),
    )
    op.create_index("ix_quarantines_container_id", "quarantines", ["container_id"])
    op.create_table(
        "pours",
        sa.Column("id", ID, nullable=False),
        sa.Column("container_id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("what", sa.String(length=160), nullable=False),
        sa.Column("waste_code", sa.String(length=9), nullable=False, comment="of what was poured"),
        sa.Column("volume_ul", sa.BigInteger(), nullable=False),
        sa.Column("silver_low_mg", sa.BigInteger(), nullable=False),
        sa.Column("silver_high_mg", sa.BigInteger(), nullable=False),
        sa.Column("wrong_because", sa.String(length=400), nullable=False),
        sa.Column("poured_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.CheckConstraint("silver_low_mg >= 0 AND silver_low_mg <= silver_high_mg", name=op.f("ck_pours_silver")),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_pours_volume")),
        sa.ForeignKeyConstraint(["container_id"], ["waste_containers.id"], name="fk_pours_container_id"),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_pours_movement_id"),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_pours_recorded_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_pours"),
        sa.UniqueConstraint("movement_id", name="uq_pours_movement_id"),
    )
    op.create_index("ix_pours_container_id", "pours", ["container_id"])
    op.create_table(
        "discharges",
        sa.Column("id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("what", sa.String(length=160), nullable=False),
        sa.Column("waste_code", sa.String(length=9), nullable=False),
        sa.Column("volume_ul", sa.BigInteger(), nullable=False),
        sa.Column("wrong_because", sa.String(length=400), nullable=False),
        sa.Column("discharged_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_discharges_volume")),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_discharges_movement_id"),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_discharges_recorded_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_discharges"),
        sa.UniqueConstraint("movement_id", name="uq_discharges_movement_id"),
    )
    op.create_table(
        "collections",
        sa.Column("id", ID, nullable=False),
        sa.Column("note_code", sa.String(length=30), nullable=False),
        sa.Column("carrier", sa.String(length=160), nullable=False),
        sa.Column("collected_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name="fk_collections_recorded_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_collections"),
        sa.UniqueConstraint("note_code", name="uq_collections_note_code"),
    )
    op.create_index("ix_collections_collected_at", "collections", ["collected_at"])
    op.create_table(
        "collection_lines",
        sa.Column("id", ID, nullable=False),
        sa.Column("collection_id", ID, nullable=False),
        sa.Column("container_id", ID, nullable=False),
        sa.Column("movement_id", ID, nullable=False),
        sa.Column("book_ul", sa.BigInteger(), nullable=False, comment="level by the ledger"),
        sa.Column("carrier_ul", sa.BigInteger(), nullable=True, comment="volume by the carrier"),
        sa.Column("weight_mg", sa.BigInteger(), nullable=True, comment="net weight by the carrier"),
        sa.ForeignKeyConstraint(["collection_id"], ["collections.id"], name="fk_collection_lines_collection_id"),
        sa.ForeignKeyConstraint(["container_id"], ["waste_containers.id"], name="fk_collection_lines_container_id"),
        sa.ForeignKeyConstraint(["movement_id"], ["movements.id"], name="fk_collection_lines_movement_id"),
        sa.PrimaryKeyConstraint("id", name="pk_collection_lines"),
        sa.UniqueConstraint("container_id", name="uq_collection_lines_container_id"),
    )
    op.create_index("ix_collection_lines_collection_id", "collection_lines", ["collection_id"])


def downgrade() -> None:
    op.drop_table("collection_lines")
    op.drop_table("collections")
    op.drop_table("discharges")
    op.drop_table("pours")
    op.drop_table("quarantines")
    op.drop_table("waste_containers")
    op.drop_table("waste_streams")
