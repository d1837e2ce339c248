"""A booking of a class says how many are taught and how many teach, where that is known: for fire everybody counts."""

import sqlalchemy as sa
from alembic import op

revision = "0045"
down_revision = "0044"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("bookings") as table:
        table.add_column(
            sa.Column(
                "students", sa.Integer(), nullable=True, comment="of a class, where they are known; empty: one a unit"
            )
        )
        table.add_column(sa.Column("teachers", sa.Integer(), nullable=False, server_default="1", comment="of a class"))
        table.create_check_constraint(op.f("ck_bookings_students"), "students >= 0")
        table.create_check_constraint(op.f("ck_bookings_teachers"), "teachers >= 1")
    with op.batch_alter_table("bookings") as table:
        table.alter_column("teachers", server_default=None)
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
    with op.batch_alter_table("bookings") as table:
        table.drop_constraint(op.f("ck_bookings_teachers"), type_="check")
        table.drop_constraint(op.f("ck_bookings_students"), type_="check")
        table.drop_column("teachers")
        table.drop_column("students")
