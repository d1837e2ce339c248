"""A booking of a class says how many are taught and how many teach, where that is known: for fire everybody counts."""

from alembic import op

revision = "0045"
down_revision = "0044"
branch_labels = None
depends_on = None

# Each check stands with its column: bookings are never made anew, since other tables point at them.
_ADDED = (
    (
        "students",
        "INTEGER CONSTRAINT ck_bookings_students CHECK (students >= 0)",
        "of a class, where they are known; empty: one a unit",
    ),
    ("teachers", "INTEGER NOT NULL DEFAULT 1 CONSTRAINT ck_bookings_teachers CHECK (teachers >= 1)", "of a class"),
)


def upgrade() -> None:
    for name, kind, comment in _ADDED:
        op.execute(f"ALTER TABLE bookings ADD COLUMN {name} {kind}")
        if op.get_bind().dialect.name == "postgresql":
            op.execute(f"COMMENT ON COLUMN bookings.{name} IS '{comment}'")
    op.execute(
        """UPDATE bookings SET
            students = (
                SELECT COUNT(*) FROM course_meetings
                JOIN course_students ON course_students.course_id = course_meetings.course_id
                WHERE course_meetings.booking_id = bookings.id AND course_students.removed_at IS NULL
            ),
            teachers = (
                SELECT COUNT(*) FROM course_meetings
                JOIN course_instructors ON course_instructors.course_id = course_meetings.course_id
                WHERE course_meetings.booking_id = bookings.id
            )
        WHERE id IN (SELECT booking_id FROM course_meetings)"""
    )


def downgrade() -> None:
    for name, *_ in reversed(_ADDED):
        op.drop_column("bookings", name)
