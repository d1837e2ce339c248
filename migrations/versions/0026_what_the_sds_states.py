"""What more an SDS states of a product: pH, a range of density, flash point, viscosity, estimates of toxicity.

Each check stands with the last of the columns it is about, so that SQLite takes it and lets it go with that column.
"""

from typing import NamedTuple

from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None


class Added(NamedTuple):
    name: str
    comment: str
    kind: str = "INTEGER"
    checks: tuple[tuple[str, str], ...] = ()


_PH_CHECKS = (
    ("ph", "ph_low_milli >= 0 AND ph_low_milli <= ph_high_milli AND ph_high_milli <= 14000"),
    ("ph_ends", "(ph_low_milli IS NULL) = (ph_high_milli IS NULL)"),
)
_DENSITY_CHECKS = (
    ("density_range", "density_mg_per_ml <= density_high_mg_per_ml"),
    ("density_ends", "density_high_mg_per_ml IS NULL OR density_mg_per_ml IS NOT NULL"),
)
_ATES = {
    "ate_oral_milli": "acute toxicity estimate, mg/kg × 1000",
    "ate_dermal_milli": "mg/kg × 1000",
    "ate_gas_milli": "inhaled as a gas, ppm by volume × 1000",
    "ate_vapour_milli": "inhaled as a vapour, mg/L × 1000",
    "ate_dust_mist_milli": "inhaled as dust or mist, mg/L × 1000",
}
_COLUMNS = {
    "products": (
        Added("density_high_mg_per_ml", "the most, where it states a range", checks=_DENSITY_CHECKS),
        Added("ph_low_milli", "pH as supplied × 1000; of a powder, of its solution"),
        Added("ph_high_milli", "the same where the SDS states one figure", checks=_PH_CHECKS),
        Added("flash_point_milli_c", "as supplied, the lowest stated, °C × 1000"),
        Added(
            "viscosity_milli",
            "kinematic, at 40 °C, the lowest stated, mm²/s × 1000",
            checks=(("viscosity", "viscosity_milli > 0"),),
        ),
        Added(
            "unknown_toxicity_ppm",
            "share by weight that the SDS calls of unknown acute toxicity",
            checks=(("unknown_toxicity", "unknown_toxicity_ppm > 0 AND unknown_toxicity_ppm <= 1000000"),),
        ),
    ),
    "ingredients": (
        *(Added(name, comment, "BIGINT", ((name, f"{name} > 0"),)) for name, comment in _ATES.items()),
        Added("workplace_limit", "as section 8 of the SDS names it", "VARCHAR(120) DEFAULT '' NOT NULL"),
    ),
    "product_dilutions": (
        Added("ph_low_milli", "pH as used × 1000"),
        Added("ph_high_milli", "the same where one figure is stated", checks=_PH_CHECKS),
    ),
}
_OLD_DENSITY = "of a liquid as supplied, from section 9 of the SDS"
_DENSITY = "of a liquid as supplied, the least that section 9 of the SDS states"


def upgrade() -> None:
    for table, columns in _COLUMNS.items():
        for column in columns:
            rules = " ".join(f"CONSTRAINT ck_{table}_{name} CHECK ({rule})" for name, rule in column.checks)
            op.execute(f"ALTER TABLE {table} ADD COLUMN {column.name} {column.kind} {rules}")
            _comment(f"{table}.{column.name}", column.comment)
    _comment("products.density_mg_per_ml", _DENSITY)


def downgrade() -> None:
    _comment("products.density_mg_per_ml", _OLD_DENSITY)
    for table, columns in reversed(_COLUMNS.items()):
        for column in reversed(columns):
            op.execute(f"ALTER TABLE {table} DROP COLUMN {column.name}")


def _comment(column: str, words: str) -> None:
    if op.get_bind().dialect.name == "postgresql":  # SQLite keeps none
        op.execute(f"COMMENT ON COLUMN {column} IS '{words}'")
