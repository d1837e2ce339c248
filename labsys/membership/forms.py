"""What may be typed about membership."""

from datetime import date

from wtforms import RadioField, StringField
from wtforms.validators import InputRequired, Length, Optional

from labsys.forms import DayField, LabForm, check_year, options
from labsys.membership.models import AgeStatement, GuardianPermission
from labsys.people.models import Person
from labsys.records.models import Admits, Safeguarding

ADULT, UNDER_18 = "adult", "under 18"


class AgeForm(LabForm):
    age = RadioField(
        "Age", [InputRequired("Choose one of the two.")], choices=options({ADULT: "18 or over", UNDER_18: "under 18"})
    )
    until = DayField(
        "Under 18 until",
        [Optional(), check_year],
        description="The 18th birthday, or any day soon after it for who would rather not say the birthday.",
    )
    school_until = DayField(
        "Of school age until",
        [Optional(), check_year],
        description="As the law of the nation has it. Left empty, the rules for school age hold until 18.",
    )

    @classmethod
    def of(cls, statement: AgeStatement | None) -> "AgeForm":
        if statement is None:
            return cls()
        is_adult = statement.under_18_until is None
        return cls(
            age=ADULT if is_adult else UNDER_18, until=statement.under_18_until, school_until=statement.school_age_until
        )

    def validate(self, extra_validators: object = None) -> bool:
        is_valid: bool = super().validate(extra_validators)
        if is_valid and self.age.data == UNDER_18 and self.until.data is None:
            self.until.errors = ["Say until when."]
            return False
        return is_valid

    @property
    def days(self) -> tuple[date | None, date | None]:
        """Until when they are under 18, and of school age; none of who is 18 or over. Only of a valid form."""
        return (None, None) if self.age.data == ADULT else (self.until.data, self.school_until.data)


class RulesForm(LabForm):
    admits_under_18 = RadioField(
        "Do people under 18 come here?",
        [InputRequired("Choose one.")],
        choices=options({Admits.YES.value: "yes", Admits.NO.value: "no", Admits.NOT_STATED.value: "not decided yet"}),
    )
    safeguarding = RadioField(
        "Where somebody under 18 works there are",
        choices=options({rule.value: rule.value for rule in Safeguarding}),
        default=Safeguarding.EITHER.value,
    )


class PermissionForm(LabForm):
    guardian = StringField(
        "Signed by", [InputRequired("Enter who signed it."), Length(max=Person.NAME_LENGTH)], description="A guardian."
    )
    given_on = DayField("Signed on", [InputRequired("Enter the day it was signed."), check_year])
    ends_on = DayField(
        "Holds until", [InputRequired("Enter the last day it holds."), check_year], description="This day included."
    )
    paper = StringField(
        "Where the paper is",
        [Optional(), Length(max=GuardianPermission.PAPER_LENGTH)],
        description="Such as: folder 3.",
    )
