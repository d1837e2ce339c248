"""What more an SDS states of a product: pH, a range of density, flash point, viscosity, estimates of toxicity.

Each check stands with the last of the columns it is about, so that SQLite takes it and lets it go with that column.
"""

from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

_PH = (
    ("ph_low_milli", "INTEGER", {}),
    (
        "ph_high_milli",
        "INTEGER",
        {
            "ph": "ph_low_milli >= 0 AND ph_low_milli <= ph_high_milli AND ph_high_milli <= 14000",
            "ph_ends": "(ph_low_milli IS NULL) = (ph_high_milli IS NULL)",
        },
    ),
)
_ATES = ("ate_oral_milli", "ate_dermal_milli", "ate_gas_milli", "ate_vapour_milli", "ate_dust_mist_milli")
_COLUMNS = {
    "products": (
        (
            "density_high_mg_per_ml",
            "INTEGER",
            {
                "density_range": "density_mg_per_ml <= density_high_mg_per_ml",
                "density_ends": "density_high_mg_per_ml IS NULL OR density_mg_per_ml IS NOT NULL",
            },
        ),
        *_PH,
        ("flash_point_milli_c", "INTEGER", {}),
        ("viscosity_milli", "INTEGER", {"viscosity": "viscosity_milli > 0"}),
        (
            "unknown_toxicity_ppm",
            "INTEGER",
            {"unknown_toxicity": "unknown_toxicity_ppm > 0 AND unknown_toxicity_ppm <= 1000000"},
        ),
    ),
    "ingredients": (
        *((name, "BIGINT", {name: f"{name} > 0"}) for name in _ATES),
        ("workplace_limit", "VARCHAR(120) DEFAULT '' NOT NULL", {}),
    ),
    "product_dilutions": _PH,
}


def upgrade() -> None:
    for table, columns in _COLUMNS.items():
        for column, kind, checks in columns:
            rules = " ".join(f"CONSTRAINT ck_{table}_{name} CHECK ({rule})" for name, rule in checks.items())
            op.execute(f"ALTER TABLE {table} ADD COLUMN {column} {kind} {rules}")


def downgrade() -> None:
    for table, columns in reversed(_COLUMNS.items()):
        for column, *_ in reversed(columns):
            op.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
