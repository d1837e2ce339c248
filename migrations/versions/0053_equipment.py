"""Equipment with its checks and faults; cylinders are equipment; grace for overdue checks; extraction at a start."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0053"
down_revision = "0052"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
TABLES = ("equipment_faults", "equipment_examinations", "equipment_checks", "equipment")
CLASSES = {"a": "class A", "b": "class B", "unmarked": "no class marked"}


def upgrade() -> None:
    op.create_table(
        "equipment",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("code", sa.String(20), nullable=False, comment="empty: entered before equipment had codes"),
        sa.Column("whereabouts", sa.String(80), nullable=False, comment="where it hangs or lies"),
        sa.Column("room_id", ID, nullable=True, comment="closed when it fails"),
        sa.Column("station_id", ID, nullable=True, comment="closed when it fails"),
        sa.Column("lapses_on", sa.Date(), nullable=True, comment="the last day of a sealed bottle"),
        sa.Column("step_micro", ID, nullable=True, comment="one step of its display, of a balance, × 10⁶"),
        sa.Column("added_on", sa.Date(), nullable=False),
        sa.Column("retired_at", INSTANT, nullable=True),
        sa.Column("retired_because", sa.String(300), nullable=False),
        sa.CheckConstraint("room_id IS NULL OR station_id IS NULL", name=op.f("ck_equipment_serves_one")),
        sa.CheckConstraint("step_micro > 0", name=op.f("ck_equipment_step")),
        sa.CheckConstraint(
            "(kind = 'eyewash bottle') = (lapses_on IS NOT NULL)", name=op.f("ck_equipment_bottle_lapses")
        ),
        sa.CheckConstraint("(retired_at IS NULL) = (retired_because = '')", name=op.f("ck_equipment_retired_because")),
        sa.ForeignKeyConstraint(["room_id"], ["rooms.id"], name=op.f("fk_equipment_room_id")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name=op.f("fk_equipment_station_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment")),
    )
    op.create_table(
        "equipment_checks",
        sa.Column("id", ID, nullable=False),
        sa.Column("equipment_id", ID, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("happened_on", sa.Date(), nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("recorded_by_id", ID, nullable=False),
        sa.Column("has_passed", sa.Boolean(), nullable=False),
        sa.Column("error_micro", ID, nullable=True, comment="°C, mL, g or pH, × 10⁶"),
        sa.Column("doubt_micro", ID, nullable=True, comment="in the same unit"),
        sa.Column("note", sa.String(300), nullable=False),
        sa.CheckConstraint(
            "(error_micro IS NULL) = (doubt_micro IS NULL)", name=op.f("ck_equipment_checks_error_with_doubt")
        ),
        sa.CheckConstraint("doubt_micro > 0", name=op.f("ck_equipment_checks_doubt")),
        sa.CheckConstraint(
            "(kind = 'check of its reading') = (error_micro IS NOT NULL)",
            name=op.f("ck_equipment_checks_reading_has_error"),
        ),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_equipment_checks_equipment_id")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["people.id"], name=op.f("fk_equipment_checks_recorded_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_checks")),
    )
    op.create_index(
        "ix_equipment_checks_equipment_id_kind_happened_on", "equipment_checks", ["equipment_id", "kind", "happened_on"]
    )
    op.create_table(
        "equipment_examinations",
        sa.Column("check_id", ID, autoincrement=False, nullable=False),
        sa.Column("employer", sa.String(1_000), nullable=False, comment="name and address, whose plant it is"),
        sa.Column("plant", sa.String(200), nullable=False, comment="which, where, and what it draws away"),
        sa.Column("conditions", sa.String(200), nullable=False, comment="at the test: as in use, or special ones"),
        sa.Column("intended", sa.String(1_000), nullable=False, comment="performance it was made for"),
        sa.Column("found", sa.String(1_000), nullable=False, comment="performance at the test"),
        sa.Column("method", sa.String(1_000), nullable=False, comment="how it was judged"),
        sa.Column("repairs", sa.String(1_000), nullable=False, comment="what has to be repaired; empty: nothing"),
        sa.Column("examiner", sa.String(200), nullable=False, comment="who, as what, of whom"),
        sa.ForeignKeyConstraint(["check_id"], ["equipment_checks.id"], name=op.f("fk_equipment_examinations_check_id")),
        sa.PrimaryKeyConstraint("check_id", name=op.f("pk_equipment_examinations")),
    )
    op.create_table(
        "equipment_faults",
        sa.Column("id", ID, nullable=False),
        sa.Column("equipment_id", ID, nullable=True),
        sa.Column("station_id", ID, nullable=True),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("words", sa.String(300), nullable=False),
        sa.Column("reported_at", INSTANT, nullable=False),
        sa.Column("reported_by_id", ID, nullable=False),
        sa.Column("cleared_at", INSTANT, nullable=True),
        sa.Column("cleared_by_id", ID, nullable=True),
        sa.Column("cleared_how", sa.String(300), nullable=False),
        sa.CheckConstraint(
            "(equipment_id IS NULL) <> (station_id IS NULL)", name=op.f("ck_equipment_faults_one_subject")
        ),
        sa.CheckConstraint(
            "(cleared_at IS NULL) = (cleared_by_id IS NULL)", name=op.f("ck_equipment_faults_cleared_by")
        ),
        sa.CheckConstraint("(cleared_at IS NULL) = (cleared_how = '')", name=op.f("ck_equipment_faults_cleared_how")),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_equipment_faults_equipment_id")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name=op.f("fk_equipment_faults_station_id")),
        sa.ForeignKeyConstraint(["reported_by_id"], ["people.id"], name=op.f("fk_equipment_faults_reported_by_id")),
        sa.ForeignKeyConstraint(["cleared_by_id"], ["people.id"], name=op.f("fk_equipment_faults_cleared_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_equipment_faults")),
    )
    op.create_index("ix_equipment_faults_cleared_at", "equipment_faults", ["cleared_at"])
    op.create_index("ix_equipment_faults_equipment_id", "equipment_faults", ["equipment_id"])
    op.create_index("ix_equipment_faults_station_id", "equipment_faults", ["station_id"])
    op.add_column(
        "lab",
        sa.Column(
            "check_grace_days",
            sa.Integer(),
            nullable=True,
            comment="an overdue check of equipment closes what it serves so long after; empty: at once",
        ),
    )
    op.add_column(
        "bookings", sa.Column("fan_confirmed_at", INSTANT, nullable=True, comment="somebody saw that extraction runs")
    )
    op.add_column("cylinders", sa.Column("equipment_id", ID, nullable=True, comment="with its checks"))
    _enter_cylinders()
    with op.batch_alter_table("cylinders") as batch:
        batch.alter_column("equipment_id", existing_type=ID, existing_comment="with its checks", nullable=False)
        batch.create_foreign_key(op.f("fk_cylinders_equipment_id"), "equipment", ["equipment_id"], ["id"])
        batch.create_unique_constraint(op.f("uq_cylinders_equipment_id"), ["equipment_id"])


def _enter_cylinders() -> None:
    """Each cylinder is a piece of equipment that was never checked."""
    cylinders = sa.table(
        "cylinders", *(sa.column(name) for name in ("id", "nominal_ml", "accuracy_class", "kept_for", "equipment_id"))
    )
    equipment = sa.table(
        "equipment",
        *(sa.column(name) for name in ("kind", "name", "code", "whereabouts", "retired_because")),
        sa.column("id", ID),
        sa.column("added_on", sa.Date()),
    )
    connection, today = op.get_bind(), datetime.now(UTC).date()
    for row in connection.execute(sa.select(cylinders).order_by(cylinders.c.id)).all():
        kept = f", for {row.kept_for}" if row.kept_for else ""
        entered = equipment.insert().values(
            kind="measuring cylinder",
            name=f"Measuring cylinder, {row.nominal_ml} mL, {CLASSES[row.accuracy_class]}{kept}"[:80],
            code="",
            whereabouts="",
            added_on=today,
            retired_because="",
        )
        number = connection.execute(entered.returning(equipment.c.id)).scalar_one()
        connection.execute(cylinders.update().where(cylinders.c.id == row.id).values(equipment_id=number))


def downgrade() -> None:
    with op.batch_alter_table("cylinders") as batch:
        batch.drop_constraint(op.f("uq_cylinders_equipment_id"), type_="unique")
        batch.drop_constraint(op.f("fk_cylinders_equipment_id"), type_="foreignkey")
        batch.drop_column("equipment_id")
    op.drop_column("bookings", "fan_confirmed_at")
    op.drop_column("lab", "check_grace_days")
    for table in TABLES:
        op.drop_table(table)
