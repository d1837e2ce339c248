"""The field of an amount that is typed in the unit its bottle is counted in."""

import re
from decimal import Decimal
from typing import Any

from wtforms import StringField
from wtforms.validators import ValidationError

from labsys.ledger.models import Unit
from labsys.quantities import MG_PER_G, QuantityError, parse_mass, parse_volume, typed_volume

_NOTHING = re.compile(r"0+([.,]0+)?\s*[a-zµ]*", re.IGNORECASE)


class AmountField(StringField):
    """An amount in the unit its source is counted in; `amount` is the whole number of it. Nothing may be allowed."""

    def __init__(self, label: str, validators: list[Any] | None = None, *, or_nothing: bool = False, **kwargs: Any):
        super().__init__(label, validators, **kwargs)
        self.unit = "mL"
        self.or_nothing = or_nothing
        self.amount: int | None = None

    def count_in(self, unit: Unit) -> None:
        self.unit = "mL" if unit is Unit.UL else "g"

    def typed(self, amount: int) -> str:
        """An amount as a person would type it."""
        return typed_volume(amount) if self.unit == "mL" else f"{(Decimal(amount) / MG_PER_G).normalize():f} g"

    def pre_validate(self, form: Any) -> None:
        text = (self.data or "").strip()
        if not text:
            return
        if self.or_nothing and _NOTHING.fullmatch(text):
            self.amount = 0
            return
        parse = parse_volume if self.unit == "mL" else parse_mass
        try:
            self.amount = parse(text, unit=self.unit)
        except QuantityError as error:
            raise ValidationError(str(error)) from error
