"""Forms of the chemical store: what may be typed of products, bottles and measuring cylinders."""

from labsys.stock.forms.fields import (
    options,
    show_dilution,
)
from labsys.stock.forms.product import (
    HOURS_PER_DAY,
    MEASURE_NAMES,
    MILLI,
    CapacityRow,
    ChangeProductForm,
    IngredientRow,
    ProductForm,
    filled,
)
from labsys.stock.forms.store import (
    CLASS_NAMES,
    ConfirmForm,
    CylinderForm,
    LiquidBottleForm,
    LiquidLevelForm,
    PowderBottleForm,
    PowderLevelForm,
)

__all__ = [
    "CLASS_NAMES",
    "HOURS_PER_DAY",
    "MEASURE_NAMES",
    "MILLI",
    "CapacityRow",
    "ChangeProductForm",
    "ConfirmForm",
    "CylinderForm",
    "IngredientRow",
    "LiquidBottleForm",
    "LiquidLevelForm",
    "PowderBottleForm",
    "PowderLevelForm",
    "ProductForm",
    "filled",
    "options",
    "show_dilution",
]
