"""What a person may ask of the register."""

from collections.abc import Sequence

from wtforms import DateField, SelectField, StringField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, Optional, ValidationError

from labsys.forms import LabForm, check_year
from labsys.hazards.cas import is_cas
from labsys.register.contact import ContactAsked
from labsys.register.rows import Asked, HazardFilter


class FilterForm(LabForm):
    """Which rows of the register to show; sent by GET."""

    words = StringField(
        "Product, substance or CAS number", [Optional(), Length(max=80, message="Write less.")], name="q"
    )
    show = SelectField(
        "Show", choices=[SelectChoice("", "everything"), SelectChoice("concerns", "what is missing or overdue")]
    )
    hazard = SelectField(
        "Hazard", choices=[SelectChoice("", "any"), *(SelectChoice(one.name, one.value) for one in HazardFilter)]
    )
    place = SelectField("Place")

    def offer(self, places: Sequence[str]) -> None:
        self.place.choices = [SelectChoice("", "anywhere"), *(SelectChoice(one, one) for one in places)]

    def asked(self) -> Asked:
        """What was asked for; only of a valid form."""
        return Asked(
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
        first = SelectChoice(0, "none: the substance of the CAS number")
        self.product.choices = [first, *(SelectChoice(row_id, name) for row_id, name in products)]

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
        assert self.since.data is not None  # noqa: S101 - InputRequired says so
        return ContactAsked(self.since.data, self.cas.data or "", self.product.data)
