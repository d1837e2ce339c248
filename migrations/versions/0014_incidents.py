"""Incidents."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "incidents",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("happened_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("reported_by_id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=True),
        sa.Column("what", sa.String(length=2000), nullable=False),
        sa.Column("done", sa.String(length=2000), nullable=False),
        sa.Column("hurt", sa.String(length=200), nullable=False, comment="who was hurt: health data"),
        sa.Column("changed", sa.String(length=2000), nullable=False, comment="what was changed afterwards"),
        sa.Column("closed_at", INSTANT, nullable=True),
        sa.Column("closed_by_id", ID, nullable=True),
        sa.CheckConstraint("closed_at IS NULL OR changed <> ''", name=op.f("ck_incidents_closed_with_change")),
        sa.ForeignKeyConstraint(["closed_by_id"], ["people.id"], name="fk_incidents_closed_by_id"),
        sa.ForeignKeyConstraint(["reported_by_id"], ["people.id"], name="fk_incidents_reported_by_id"),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_incidents_station_id"),
        sa.PrimaryKeyConstraint("id", name="pk_incidents"),
    )
    op.create_index("ix_incidents_closed_at", "incidents", ["closed_at"])
    for table, other, target in (
        ("incident_processes", "process_id", "processes"),
        ("incident_products", "product_id", "products"),
    ):
        op.create_table(
            table,
            sa.Column("id", ID, nullable=False),
            sa.Column("incident_id", ID, nullable=False),
            sa.Column(other, ID, nullable=False),
            sa.ForeignKeyConstraint(["incident_id"], ["incidents.id"], name=f"fk_{table}_incident_id"),
            sa.ForeignKeyConstraint([other], [f"{target}.id"], name=f"fk_{table}_{other}"),
            sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
            sa.UniqueConstraint("incident_id", other, name=f"uq_{table}_incident_id_{other}"),
        )
        op.create_index(f"ix_{table}_{other}", table, [other])


def downgrade() -> None:
    op.drop_table("incident_products")
    op.drop_table("incident_processes")
    op.drop_table("incidents")
