"""More ways to test a bath, how often each is made, what control strips aim at; tests of washes and safelights."""

import sqlalchemy as sa
from alembic import op

revision = "0051"
down_revision = "0050"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)
ONE_RESULT = (
    "CASE WHEN value_milli IS NULL THEN 0 ELSE 1 END + CASE WHEN colour IS NULL THEN 0 ELSE 1 END"
    " + CASE WHEN stain IS NULL THEN 0 ELSE 1 END + CASE WHEN middle IS NULL THEN 0 ELSE 1 END = 1"
)
STRIP = (
    "(fog IS NULL) = (middle IS NULL) AND (speed IS NULL) = (middle IS NULL) AND (aim_id IS NULL) = (middle IS NULL)"
)
ADDED = (
    ("milli_c", sa.Integer(), "how warm it was, °C × 1000"),
    ("stain", WORD, "of a drop on finished work"),
    ("fog", sa.Integer(), "of a control strip, density × 1000"),
    ("speed", sa.Integer(), "of a control strip, density × 1000"),
    ("middle", sa.Integer(), "of a control strip, density × 1000"),
    ("aim_id", ID, None),
)


def upgrade() -> None:
    op.create_table(
        "check_rules",
        sa.Column("id", ID, nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("every_mm2", sa.BigInteger(), nullable=True, comment="due once so much went through since the last"),
        sa.Column("every_days", sa.Integer(), nullable=True, comment="due so many days after the last"),
        sa.Column("low_milli", sa.Integer(), nullable=True, comment="specific gravity at least, × 1000"),
        sa.Column(
            "high_milli", sa.Integer(), nullable=True, comment="specific gravity, or silver in g/L, at most, × 1000"
        ),
        sa.Column("source", sa.String(length=200), nullable=False, comment="of the limits"),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("place", WORD, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("every_mm2 > 0 AND every_days > 0", name=op.f("ck_check_rules_every")),
        sa.CheckConstraint("low_milli <= high_milli AND high_milli > 0", name=op.f("ck_check_rules_limits")),
        sa.CheckConstraint("high_milli IS NULL OR source <> ''", name=op.f("ck_check_rules_source")),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name="fk_check_rules_line_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_check_rules_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_check_rules"),
        sa.UniqueConstraint(
            "line_id",
            "place",
            "product_id",
            "water_parts_milli",
            "kind",
            name="uq_check_rules_line_id_place_product_id_water_parts_milli_kind",
        ),
    )
    op.create_table(
        "strip_aims",
        sa.Column("id", ID, nullable=False),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("box", sa.String(length=80), nullable=False, comment="the strips it holds for"),
        sa.Column("speed_step", sa.Integer(), nullable=False, comment="from 1, the clear step"),
        sa.Column("middle_step", sa.Integer(), nullable=False),
        sa.Column("fog", sa.Integer(), nullable=False, comment="density × 1000"),
        sa.Column("speed", sa.Integer(), nullable=False, comment="density × 1000"),
        sa.Column("middle", sa.Integer(), nullable=False, comment="density × 1000"),
        sa.Column(
            "fog_over", sa.Integer(), nullable=False, comment="base and fog at most so much over the aim, × 1000"
        ),
        sa.Column("middle_within", sa.Integer(), nullable=False, comment="middle step within, × 1000"),
        sa.Column(
            "contrast_within", sa.Integer(), nullable=False, comment="middle step over speed point within, × 1000"
        ),
        sa.Column("source", sa.String(length=200), nullable=False, comment="of the limits"),
        sa.Column("set_at", INSTANT, nullable=False),
        sa.Column("set_by_id", ID, nullable=False),
        sa.CheckConstraint("fog >= 0 AND fog < speed AND speed < middle", name=op.f("ck_strip_aims_densities")),
        sa.CheckConstraint("speed_step >= 2 AND speed_step < middle_step", name=op.f("ck_strip_aims_steps")),
        sa.CheckConstraint(
            "fog_over > 0 AND middle_within > 0 AND contrast_within > 0", name=op.f("ck_strip_aims_limits")
        ),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name="fk_strip_aims_line_id"),
        sa.ForeignKeyConstraint(["set_by_id"], ["people.id"], name="fk_strip_aims_set_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_strip_aims"),
    )
    op.create_index("ix_strip_aims_line_id", "strip_aims", ["line_id"])
    with op.batch_alter_table("checks") as table:
        for name, kind, comment in ADDED:
            table.add_column(sa.Column(name, kind, nullable=True, comment=comment))
        table.create_foreign_key("fk_checks_aim_id", "strip_aims", ["aim_id"], ["id"])
        table.drop_constraint(op.f("ck_checks_one_result"), type_="check")
        table.create_check_constraint(op.f("ck_checks_one_result"), ONE_RESULT)
        table.create_check_constraint(op.f("ck_checks_strip"), STRIP)
        table.create_check_constraint(op.f("ck_checks_warmth"), "milli_c IS NULL OR kind IN ('pH', 'specific gravity')")
        table.alter_column(
            "value_milli",
            existing_type=sa.Integer(),
            existing_nullable=True,
            existing_comment="seconds or pH, × 1000",
            comment="seconds, pH, specific gravity or g/L, × 1000",
        )
    op.create_table(
        "wash_tests",
        sa.Column("id", ID, nullable=False),
        sa.Column("line_id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=True),
        sa.Column("material", WORD, nullable=False),
        sa.Column("piece", sa.String(length=80), nullable=False, comment="which film or paper, and how it was washed"),
        sa.Column("stain", WORD, nullable=True, comment="of a drop of silver nitrate"),
        sa.Column("ug_per_m2", sa.Integer(), nullable=True, comment="thiosulfate ion, µg/m²"),
        sa.Column("tested_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("tested_by_id", ID, nullable=False),
        sa.Column("film_mm2", sa.BigInteger(), nullable=False),
        sa.Column("rc_mm2", sa.BigInteger(), nullable=False),
        sa.Column("fibre_mm2", sa.BigInteger(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("(stain IS NULL) <> (ug_per_m2 IS NULL)", name=op.f("ck_wash_tests_one_result")),
        sa.CheckConstraint("ug_per_m2 >= 0", name=op.f("ck_wash_tests_measured")),
        sa.ForeignKeyConstraint(["line_id"], ["bath_lines.id"], name="fk_wash_tests_line_id"),
        sa.ForeignKeyConstraint(["bath_id"], ["baths.id"], name="fk_wash_tests_bath_id"),
        sa.ForeignKeyConstraint(["tested_by_id"], ["people.id"], name="fk_wash_tests_tested_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_wash_tests"),
    )
    op.create_index("ix_wash_tests_bath_id", "wash_tests", ["bath_id"])
    op.create_index("ix_wash_tests_line_id_tested_at", "wash_tests", ["line_id", "tested_at"])
    op.create_table(
        "safelight_tests",
        sa.Column("id", ID, nullable=False),
        sa.Column("station_id", ID, nullable=False),
        sa.Column("paper", sa.String(length=80), nullable=False, comment="which paper or film"),
        sa.Column("lamp", sa.String(length=80), nullable=False, comment="lamp and filter"),
        sa.Column("distance_cm", sa.Integer(), nullable=False),
        sa.Column(
            "clean_s", sa.Integer(), nullable=True, comment="longest step without a change; 0: the shortest changed"
        ),
        sa.Column("changed_s", sa.Integer(), nullable=True, comment="shortest step that changed; empty: none did"),
        sa.Column("needed_s", sa.Integer(), nullable=True, comment="longest that paper is handled there"),
        sa.Column("gain_milli", sa.Integer(), nullable=True, comment="density gained in two minutes, × 1000"),
        sa.Column("tested_at", INSTANT, nullable=False),
        sa.Column("recorded_at", INSTANT, nullable=False),
        sa.Column("tested_by_id", ID, nullable=False),
        sa.CheckConstraint("(clean_s IS NULL) <> (gain_milli IS NULL)", name=op.f("ck_safelight_tests_one_result")),
        sa.CheckConstraint("clean_s >= 0 AND changed_s > clean_s", name=op.f("ck_safelight_tests_steps")),
        sa.CheckConstraint(
            "(clean_s IS NULL) = (needed_s IS NULL) AND needed_s > 0", name=op.f("ck_safelight_tests_needed")
        ),
        sa.CheckConstraint("changed_s IS NULL OR clean_s IS NOT NULL", name=op.f("ck_safelight_tests_of_coins")),
        sa.CheckConstraint("distance_cm > 0", name=op.f("ck_safelight_tests_distance")),
        sa.ForeignKeyConstraint(["station_id"], ["stations.id"], name="fk_safelight_tests_station_id"),
        sa.ForeignKeyConstraint(["tested_by_id"], ["people.id"], name="fk_safelight_tests_tested_by_id"),
        sa.PrimaryKeyConstraint("id", name="pk_safelight_tests"),
    )
    op.create_index("ix_safelight_tests_station_id_tested_at", "safelight_tests", ["station_id", "tested_at"])


def downgrade() -> None:
    op.drop_table("safelight_tests")
    op.drop_table("wash_tests")
    op.execute("DELETE FROM checks WHERE kind NOT IN ('clearing time', 'pH', 'indicator')")
    with op.batch_alter_table("checks") as table:
        for name in ("warmth", "strip", "one_result"):
            table.drop_constraint(op.f(f"ck_checks_{name}"), type_="check")
        table.drop_constraint("fk_checks_aim_id", type_="foreignkey")
        for name, *_ in reversed(ADDED):
            table.drop_column(name)
        table.create_check_constraint(op.f("ck_checks_one_result"), "(value_milli IS NULL) <> (colour IS NULL)")
        table.alter_column(
            "value_milli",
            existing_type=sa.Integer(),
            existing_nullable=True,
            existing_comment="seconds, pH, specific gravity or g/L, × 1000",
            comment="seconds or pH, × 1000",
        )
    op.drop_table("strip_aims")
    op.drop_table("check_rules")
