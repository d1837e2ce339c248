"""What may be typed in confidence."""

from wtforms import SelectField, TextAreaField
from wtforms.fields import DateField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import Length, Optional

from labsys.forms import LabForm, check_year
from labsys.hazards.personal import PersonalFamily
from labsys.restrictions.models import Restriction, Talk

NONE_NAMED = ""


class _DayField(DateField):
    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError("Write the day as year-month-day, such as 2026-06-03.") from None


class RestrictionForm(LabForm):
    family = SelectField(
        "Keep away from",
        choices=[
            *(SelectChoice(family.value, family.value) for family in PersonalFamily),
            SelectChoice(NONE_NAMED, "no substance named: nobody else books a process for me"),
        ],
    )
    note = TextAreaField(
        "Note",
        [Optional(), Length(max=Restriction.NOTE_LENGTH)],
        description="Only if it helps. The safety adviser reads it.",
    )
    ends_on = _DayField("Until", [Optional(), check_year], description="The last day it holds. Left empty, it stays.")

    @property
    def chosen(self) -> PersonalFamily | None:
        """Only of a valid form."""
        return PersonalFamily(self.family.data) if self.family.data else None


class TalkForm(LabForm):
    agreed = TextAreaField(
        "What was agreed",
        [Optional(), Length(max=Talk.AGREED_LENGTH)],
        description="In words that both read the same way. Leave it empty if nothing was.",
    )
    ends_on = _DayField("Until", [Optional(), check_year], description="The last day it holds; then talk again.")


class SkinCheckForm(LabForm):
    last_on = _DayField("Last skin check", [Optional(), check_year], description="Left empty: not checked yet.")
