"""Courses: their dates, their rosters, and who came to each meeting."""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    op.create_table(
        "courses",
        sa.Column("id", KEY, nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("term", sa.String(60), nullable=False),
        sa.Column("station_id", KEY, nullable=False),
        sa.Column("units", sa.Integer(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=True, comment="of the term; none: the rule ends by itself"),
        sa.Column("starts_minute", sa.Integer(), nullable=False),
        sa.Column("ends_minute", sa.Integer(), nullable=False, comment="not after the start: on the next day"),
        sa.Column("rule", sa.String(200), nullable=False, comment="RFC 5545"),
        sa.Column("country", sa.String(2), nullable=False, comment="whose public holidays; empty: none"),
        sa.Column("part", sa.String(10), nullable=False, comment="of the country"),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("made_by_id", KEY, nullable=False),
        sa.CheckConstraint("units >= 1", name=op.f("ck_courses_units")),
        sa.CheckConstraint("starts_minute >= 0 AND starts_minute < 1440", name=op.f("ck_courses_starts_minute")),
        sa.CheckConstraint("ends_minute > 0 AND ends_minute <= 1440", name=op.f("ck_courses_ends_minute")),
        sa.CheckConstraint("last_day IS NULL OR last_day >= first_day", name=op.f("ck_courses_days")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name=op.f("fk_courses_station_id")),
        sa.ForeignKeyConstraint(["made_by_id"], ["people.id"], name=op.f("fk_courses_made_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_courses")),
        sa.UniqueConstraint("name", "term", name=op.f("uq_courses_name_term")),
    )
    _of_course("course_instructors", "person_id", "people")
    op.create_index(op.f("ix_course_instructors_person_id"), "course_instructors", ["person_id"])
    _of_course("course_inductions", "induction_id", "inductions")
    _of_course("course_processes", "process_id", "processes")
    op.create_table(
        "course_students",
        sa.Column("id", KEY, nullable=False),
        sa.Column("course_id", KEY, nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("email", sa.String(254), nullable=False, comment="lower case"),
        sa.Column("person_id", KEY, nullable=True),
        sa.Column("added_at", INSTANT, nullable=False),
        sa.Column("removed_at", INSTANT, nullable=True),
        sa.ForeignKeyConstraint(["course_id"], ["courses.id"], name=op.f("fk_course_students_course_id")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_course_students_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_course_students")),
        sa.UniqueConstraint("course_id", "email", name=op.f("uq_course_students_course_id_email")),
    )
    op.create_index(op.f("ix_course_students_person_id"), "course_students", ["person_id"])
    op.create_index(op.f("ix_course_students_email"), "course_students", ["email"])
    op.create_table(
        "course_meetings",
        sa.Column("id", KEY, nullable=False),
        sa.Column("course_id", KEY, nullable=False),
        sa.Column("day", sa.Date(), nullable=False, comment="as the rule has it"),
        sa.Column("booking_id", KEY, nullable=True),
        sa.Column("left_out", sa.String(200), nullable=False, comment="why it is not booked"),
        sa.Column("ended_at", INSTANT, nullable=True, comment="who stayed was confirmed"),
        sa.Column("ended_by_id", KEY, nullable=True),
        sa.CheckConstraint(
            "(booking_id IS NULL) = (left_out <> '')", name=op.f("ck_course_meetings_booked_or_left_out")
        ),
        sa.CheckConstraint("(ended_at IS NULL) = (ended_by_id IS NULL)", name=op.f("ck_course_meetings_ended")),
        sa.ForeignKeyConstraint(["course_id"], ["courses.id"], name=op.f("fk_course_meetings_course_id")),
        sa.ForeignKeyConstraint(["booking_id"], ["bookings.id"], name=op.f("fk_course_meetings_booking_id")),
        sa.ForeignKeyConstraint(["ended_by_id"], ["people.id"], name=op.f("fk_course_meetings_ended_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_course_meetings")),
        sa.UniqueConstraint("course_id", "day", name=op.f("uq_course_meetings_course_id_day")),
        sa.UniqueConstraint("booking_id", name=op.f("uq_course_meetings_booking_id")),
    )
    op.create_table(
        "course_attendances",
        sa.Column("id", KEY, nullable=False),
        sa.Column("meeting_id", KEY, nullable=False),
        sa.Column("student_id", KEY, nullable=False),
        sa.Column("arrived_at", INSTANT, nullable=False),
        sa.Column("noted_by_id", KEY, nullable=False),
        sa.Column("outcome", sa.String(40), nullable=True),
        sa.ForeignKeyConstraint(["meeting_id"], ["course_meetings.id"], name=op.f("fk_course_attendances_meeting_id")),
        sa.ForeignKeyConstraint(["student_id"], ["course_students.id"], name=op.f("fk_course_attendances_student_id")),
        sa.ForeignKeyConstraint(["noted_by_id"], ["people.id"], name=op.f("fk_course_attendances_noted_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_course_attendances")),
        sa.UniqueConstraint("meeting_id", "student_id", name=op.f("uq_course_attendances_meeting_id_student_id")),
    )
    op.create_index(op.f("ix_course_attendances_student_id"), "course_attendances", ["student_id"])


def _of_course(table: str, column: str, owner: str) -> None:
    op.create_table(
        table,
        sa.Column("id", KEY, nullable=False),
        sa.Column("course_id", KEY, nullable=False),
        sa.Column(column, KEY, nullable=False),
        sa.ForeignKeyConstraint(["course_id"], ["courses.id"], name=op.f(f"fk_{table}_course_id")),
        sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=op.f(f"fk_{table}_{column}")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("course_id", column, name=op.f(f"uq_{table}_course_id_{column}")),
    )


def downgrade() -> None:
    op.drop_table("course_attendances")
    op.drop_table("course_meetings")
    op.drop_table("course_students")
    op.drop_table("course_processes")
    op.drop_table("course_inductions")
    op.drop_table("course_instructors")
    op.drop_table("courses")
