"""What a person may ask of the register."""

from collections.abc import Sequence

from wtforms import DateField, SelectField, StringField
from wtforms.validators import InputRequired, Length, Optional, ValidationError

from labsys.forms import LabForm, check_year, given, options
from labsys.hazards.cas import is_cas
from labsys.register.contact import ContactAsked
from labsys.register.rows import HazardFilter, RegisterFilter


class FilterForm(LabForm):
    """Which rows of the register to show; sent by GET."""

    words = StringField(
        "Product, substance or CAS number", [Optional(), Length(max=80, message="Write less.")], name="q"
    )
    show = SelectField("Show", choices=options({"concerns": "what is missing or overdue"}, first="everything"))
    hazard = SelectField("Hazard", choices=options({kind.name: kind.value for kind in HazardFilter}, first="any"))
    place = SelectField("Place")

    def offer(self, places: Sequence[str]) -> None:
        self.place.choices = options({place: place for place in places}, first="anywhere")

    def asked(self) -> RegisterFilter:
        """What was asked for; only of a valid form."""
        return RegisterFilter(
            only_concerns=self.show.data == "concerns",
            hazard=HazardFilter[self.hazard.data] if self.hazard.data else None,
            place=self.place.data or "",
            words=self.words.data or "",
        )


class ContactForm(LabForm):
    """A substance by its CAS number, or a product, and from which day on."""

    cas = StringField("CAS number", [Optional(), Length(max=12)], description="Such as 123-31-9; or choose a product.")
    product = SelectField("Product", coerce=int)
    since = DateField("Since", [InputRequired("Choose the first day."), check_year])

    def offer(self, products: Sequence[tuple[int, str]]) -> None:
        self.names = dict(products)
        self.product.choices = options({0: "none: the substance of the CAS number", **self.names})

    def product_name(self) -> str:
        """The name of the product chosen; empty where none is."""
        return self.names.get(self.product.data, "")

    def validate_cas(self, field: StringField) -> None:
        if field.data and not is_cas(field.data):
            raise ValidationError("That is no CAS number. Copy it from section 3 of the SDS.")

    def validate_product(self, field: SelectField) -> None:
        if not field.data and not self.cas.data:
            raise ValidationError("Enter a CAS number or choose a product.")
        if field.data and self.cas.data:
            raise ValidationError("Enter a CAS number or choose a product, not both.")

    def asked(self) -> ContactAsked:
        """What was asked for; only of a valid form."""
        return ContactAsked(given(self.since.data), self.cas.data or "", self.product.data)
