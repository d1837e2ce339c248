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
    NewProductForm,
    ProductForm,
    filled,
)
from labsys.stock.forms.safety import (
    InterimForm,
    PlaceForm,
    ReadingForm,
    SdsRuleForm,
    SheetForm,
    ShelfForm,
    shelf_options,
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
    "InterimForm",
    "LiquidBottleForm",
    "LiquidLevelForm",
    "NewProductForm",
    "PlaceForm",
    "PowderBottleForm",
    "PowderLevelForm",
    "ProductForm",
    "ReadingForm",
    "SdsRuleForm",
    "SheetForm",
    "ShelfForm",
    "filled",
    "options",
    "shelf_options",
    "show_dilution",
]
