"""Duty: the rota, who has to be there, working alone, who is in the building, alerts; a student who left."""

import sqlalchemy as sa
from alembic import op

revision = "0047"
down_revision = "0046"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
TABLES = (
    "duty_turns",
    "duty_rules",
    "staffing_rules",
    "alert_contacts",
    "presences",
    "call_ins",
    "duty_tellings",
    "duty_alerts",
)


def upgrade() -> None:
    op.create_table(
        "duty_turns",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=True, comment="0 is Monday"),
        sa.Column("day", sa.Date(), nullable=True),
        sa.Column(
            "from_minute", sa.Integer(), nullable=False, comment="on the wall clock, within the hours of its opening"
        ),
        sa.Column("person_id", ID, nullable=True, comment="empty on a date: nobody"),
        sa.Column("telephone", sa.String(40), nullable=False, comment="where they are reached"),
        sa.CheckConstraint("(weekday IS NULL) <> (day IS NULL)", name=op.f("ck_duty_turns_weekday_or_day")),
        sa.CheckConstraint("weekday >= 0 AND weekday <= 6", name=op.f("ck_duty_turns_weekday")),
        sa.CheckConstraint("from_minute >= 0 AND from_minute < 1440", name=op.f("ck_duty_turns_from_minute")),
        sa.CheckConstraint("person_id IS NOT NULL OR day IS NOT NULL", name=op.f("ck_duty_turns_person")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_duty_turns_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_duty_turns")),
        sa.UniqueConstraint("kind", "weekday", "from_minute", name=op.f("uq_duty_turns_kind_weekday_from_minute")),
        sa.UniqueConstraint("kind", "day", "from_minute", name=op.f("uq_duty_turns_kind_day_from_minute")),
    )
    op.create_index("ix_duty_turns_day", "duty_turns", ["day"])
    op.create_table(
        "duty_rules",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alone", sa.String(40), nullable=False),
        sa.Column("ask_every_minutes", sa.Integer(), nullable=False, comment="how often whoever is alone is asked"),
        sa.Column(
            "answer_within_minutes",
            sa.Integer(),
            nullable=False,
            comment="how long an answer is waited for, of anybody",
        ),
        sa.Column("overdue_after_minutes", sa.Integer(), nullable=False, comment="after the end of somebody's time"),
        sa.CheckConstraint("id = 1", name=op.f("ck_duty_rules_only_one")),
        sa.CheckConstraint("ask_every_minutes >= 5 AND ask_every_minutes <= 240", name=op.f("ck_duty_rules_ask_every")),
        sa.CheckConstraint(
            "answer_within_minutes >= 1 AND answer_within_minutes <= 120", name=op.f("ck_duty_rules_answer_within")
        ),
        sa.CheckConstraint(
            "overdue_after_minutes >= 0 AND overdue_after_minutes <= 240", name=op.f("ck_duty_rules_overdue_after")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_duty_rules")),
    )
    op.create_table(
        "staffing_rules",
        sa.Column("id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=True),
        sa.Column("process_id", ID, nullable=True),
        sa.Column("least_people", sa.Integer(), nullable=False, comment="in the building, whoever works included"),
        sa.Column("role", sa.String(40), nullable=True, comment="somebody of this role has to be there"),
        sa.Column("induction_id", ID, nullable=True, comment="somebody who holds this has to be there"),
        sa.Column("staffed_only", sa.Boolean(), nullable=False),
        sa.CheckConstraint("(station_id IS NULL) <> (process_id IS NULL)", name=op.f("ck_staffing_rules_one_subject")),
        sa.CheckConstraint("least_people >= 1 AND least_people <= 20", name=op.f("ck_staffing_rules_least_people")),
        sa.CheckConstraint("role IS NULL OR induction_id IS NULL", name=op.f("ck_staffing_rules_one_who")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name=op.f("fk_staffing_rules_station_id")),
        sa.ForeignKeyConstraint(["process_id"], ["processes.id"], name=op.f("fk_staffing_rules_process_id")),
        sa.ForeignKeyConstraint(["induction_id"], ["inductions.id"], name=op.f("fk_staffing_rules_induction_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staffing_rules")),
        sa.UniqueConstraint("station_id", name=op.f("uq_staffing_rules_station_id")),
        sa.UniqueConstraint("process_id", name=op.f("uq_staffing_rules_process_id")),
    )
    op.create_table(
        "alert_contacts",
        sa.Column("id", ID, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_alert_contacts_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_contacts")),
        sa.UniqueConstraint("position", name=op.f("uq_alert_contacts_position")),
        sa.UniqueConstraint("person_id", name=op.f("uq_alert_contacts_person_id")),
    )
    op.create_table(
        "presences",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=True),
        sa.Column("name", sa.String(120), nullable=False, comment="of who has no account"),
        sa.Column("came_at", INSTANT, nullable=False),
        sa.Column("leaves_by", INSTANT, nullable=False, comment="overdue some time after"),
        sa.Column("left_at", INSTANT, nullable=True),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("noted_by_id", ID, nullable=False),
        sa.CheckConstraint("(person_id IS NULL) = (name <> '')", name=op.f("ck_presences_person_or_name")),
        sa.CheckConstraint("left_at IS NULL OR left_at >= came_at", name=op.f("ck_presences_left_after_coming")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_presences_person_id")),
        sa.ForeignKeyConstraint(["noted_by_id"], ["people.id"], name=op.f("fk_presences_noted_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_presences")),
    )
    op.create_index("ix_presences_left_at_came_at", "presences", ["left_at", "came_at"])
    op.create_index("ix_presences_person_id", "presences", ["person_id"])
    op.create_table(
        "call_ins",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("began_at", INSTANT, nullable=False),
        sa.Column("due_at", INSTANT, nullable=False, comment="when they are asked next, or are since"),
        sa.Column("asked_at", INSTANT, nullable=True, comment="for what is due now"),
        sa.Column("answered_at", INSTANT, nullable=True),
        sa.Column("stopped", sa.Text(), nullable=False, comment="why their work stops; empty: it goes on"),
        sa.Column("outside", sa.String(120), nullable=False, comment="who outside expects their call, with a number"),
        sa.Column("ended_at", INSTANT, nullable=True),
        sa.CheckConstraint("ended_at IS NULL OR ended_at >= began_at", name=op.f("ck_call_ins_ended_after_begin")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_call_ins_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_call_ins")),
    )
    op.create_index(
        "uq_call_ins_open",
        "call_ins",
        ["person_id"],
        unique=True,
        sqlite_where=sa.text("ended_at IS NULL"),
        postgresql_where=sa.text("ended_at IS NULL"),
    )
    op.create_table(
        "duty_alerts",
        sa.Column("id", ID, nullable=False),
        sa.Column("cause", sa.String(80), nullable=False, comment="the same cause never raises two"),
        sa.Column("about_id", ID, nullable=True, comment="empty: somebody without an account"),
        sa.Column("who", sa.String(120), nullable=False),
        sa.Column("said", sa.String(400), nullable=False),
        sa.Column("raised_at", INSTANT, nullable=False),
        sa.Column("answered_at", INSTANT, nullable=True),
        sa.Column("answered_by_id", ID, nullable=True),
        sa.Column("answer", sa.String(200), nullable=False),
        sa.Column("ended_at", INSTANT, nullable=True, comment="it came right without anybody's answer"),
        sa.CheckConstraint("(answered_at IS NULL) = (answered_by_id IS NULL)", name=op.f("ck_duty_alerts_answered")),
        sa.ForeignKeyConstraint(["about_id"], ["people.id"], name=op.f("fk_duty_alerts_about_id")),
        sa.ForeignKeyConstraint(["answered_by_id"], ["people.id"], name=op.f("fk_duty_alerts_answered_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_duty_alerts")),
        sa.UniqueConstraint("cause", name=op.f("uq_duty_alerts_cause")),
    )
    op.create_index("ix_duty_alerts_answered_at_ended_at", "duty_alerts", ["answered_at", "ended_at"])
    op.create_table(
        "duty_tellings",
        sa.Column("id", ID, nullable=False),
        sa.Column("alert_id", ID, nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("told_at", INSTANT, nullable=False),
        sa.ForeignKeyConstraint(["alert_id"], ["duty_alerts.id"], name=op.f("fk_duty_tellings_alert_id")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_duty_tellings_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_duty_tellings")),
        sa.UniqueConstraint("alert_id", "step", name=op.f("uq_duty_tellings_alert_id_step")),
    )
    op.add_column(
        "course_attendances",
        sa.Column("left_at", INSTANT, nullable=True, comment="out of the building, as far as was noted"),
    )


def downgrade() -> None:
    op.drop_column("course_attendances", "left_at")
    for table in TABLES:
        op.drop_table(table)
