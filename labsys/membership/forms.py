"""What may be typed about membership."""

from datetime import date

from wtforms import BooleanField, IntegerField, RadioField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.forms import DayField, LabForm, VersionField, check_year, options
from labsys.membership.models import (
    AgeStatement,
    AgreementSignature,
    EmergencyContact,
    FeeNote,
    GuardianPermission,
    MembershipRules,
)
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
    asks_term = BooleanField(
        "A membership that holds",
        description="Of who is a member and nothing else: after its last day they book and begin nothing.",
    )
    asks_agreement = BooleanField(
        "The agreement, signed", description="Of everybody who works here; again where a new version asks for it."
    )
    asks_contact = BooleanField(
        "Whom to call in an emergency",
        description="Of everybody who works here. Staff see it of who is in the building; other members never do.",
    )
    keeps_fees = BooleanField(
        "Keep fees here", description="Until when it is paid, or hours left, as noted. Nothing is refused for it."
    )
    most_guests = IntegerField(
        "Guests on a booking, at most",
        [Optional(), NumberRange(0, MembershipRules.MOST_GUESTS, "Enter a whole number from %(min)s to %(max)s.")],
        description="They work with nothing, and count for the room and for fire. Empty: none may come.",
    )

    @property
    def asks(self) -> dict[str, bool | int]:
        """What else the lab asks; only of a valid form."""
        asked = self.values_of("asks_term", "asks_agreement", "asks_contact", "keeps_fees")
        return {**asked, "most_guests": 0 if self.most_guests.data is None else self.most_guests.data}


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


class TermForm(LabForm):
    starts_on = DayField("From", [InputRequired("Enter the first day."), check_year])
    ends_on = DayField(
        "Until", [Optional(), check_year], description="This day included. Empty: until somebody ends it."
    )


class AgreementForm(LabForm):
    text = TextAreaField(
        "What everybody agrees to", [InputRequired("Write the agreement."), Length(max=20_000)], render_kw={"rows": 14}
    )
    earlier = RadioField(
        "Who signed an earlier version",
        [InputRequired("Choose whether it is signed again.")],
        choices=options({"stands": "need not sign again", "again": "signs again before they book or begin"}),
    )


class SignForm(LabForm):
    version = VersionField()
    agrees = BooleanField("I have read it, and agree", [InputRequired("Tick it if you agree.")])


class PaperForm(LabForm):
    version = VersionField()
    paper = StringField(
        "Where the signed paper is",
        [InputRequired("Say where the signed paper is kept."), Length(max=AgreementSignature.PAPER_LENGTH)],
        description="Such as: folder 3.",
    )


class ContactForm(LabForm):
    name = StringField(
        "Whom to call",
        [InputRequired("Write whom to call."), Length(max=Person.NAME_LENGTH)],
        description="Ask them first.",
    )
    telephone = StringField(
        "Telephone", [InputRequired("Write a telephone number."), Length(max=EmergencyContact.TELEPHONE_LENGTH)]
    )


class FeeForm(LabForm):
    paid_until = DayField("Paid until", [Optional(), check_year])
    hours_left = IntegerField("Hours left", [Optional(), NumberRange(0, 10_000)])
    note = StringField("Note", [Optional(), Length(max=FeeNote.NOTE_LENGTH)], description="Such as: receipt 114.")
