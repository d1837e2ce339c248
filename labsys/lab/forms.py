"""What a person may type about the lab itself."""

from dataclasses import fields

from wtforms import RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from labsys.forms import FigureField, LabForm, options
from labsys.hazards.nations import what_is_known
from labsys.lab.rules import MOST_CARRY_OVER_MILLI, MOST_GRACE_DAYS, NATIONS, Drain, Settings
from labsys.records.models import Lab, PaperSize


def _text(label: str, description: str) -> StringField:
    return StringField(label, [Length(max=Lab.TEXT_LENGTH)], description=description)


class LabSettingsForm(LabForm):
    """All that a lab can change about itself; `nation` offers what it has been told it lies in as well."""

    name = StringField(
        "Name",
        [InputRequired("Give the lab its name, as it is printed on labels."), Length(max=Lab.NAME_LENGTH)],
        description="It stands on every page and document. In England the lab's own consignment note codes begin with "
        "its first six letters.",
    )
    address = TextAreaField(
        "Address", [Length(max=Lab.TEXT_LENGTH)], description="What an ambulance is told: street, town, which door."
    )
    paper_size = RadioField(
        "Paper",
        [InputRequired("Choose the paper that documents are printed on.")],
        choices=options({size.value: size.value for size in PaperSize}),
    )
    nation = RadioField(  # one that is not known is refused by the rule, which names those that are
        "Nation", [InputRequired("Choose the nation the lab lies in.")], validate_choice=False
    )
    timezone = StringField(
        "Time zone",
        [InputRequired("Enter the time zone, such as Europe/London.")],
        description="By its name in the IANA's list, such as Europe/London.",
    )
    emergency = _text("Emergency line", "Whom to call here, with the number. It is printed on labels and on the card.")
    first_aider = _text("First aider", "Who, and where to find them.")
    eyewash = _text("Nearest eyewash", "Where it is.")
    spill_kit = _text("Spill kit", "Where it is.")
    hospital = _text("Hospital", "The nearest with an emergency department, and how to get there.")
    telephone = _text("Telephone in the lab", "Where it is, its number, and what to dial first.")
    out_of_hours = _text("Out of hours", "Whom to call when nobody is at the front desk.")
    drains_to = SelectField(
        "Where the sinks drain to",
        choices=options({drain: drain.capitalize() for drain in Drain}, first="Not known"),
        default="",
        description="Not known is not the foul sewer: nothing is discharged until somebody has found out.",
    )
    undertaker = _text(
        "Sewerage undertaker", "Its name and number: whom to ring when something went down the sink without consent."
    )
    carry_over_milli = FigureField(
        "Trivial carry-over into a waste container",
        [Optional()],
        scale=10,
        highest=MOST_CARRY_OVER_MILLI // 10,
        unit="% of what is in it",
        description="Poured in wrongly, up to this the technician releases the container with a reason. 1 % is common "
        "practice, no source. Left empty, nothing is trivial.",
    )

    check_grace_days = FigureField(
        "Grace for overdue checks of equipment",
        [Optional()],
        highest=MOST_GRACE_DAYS,
        unit="days",
        description="So long after the day a check was due, what the equipment serves is still open. Left empty, it is "
        "closed the day after. A period of the law has no grace.",
    )

    def offer(self, *, present: str) -> None:
        """Offer the nations on file, and the present one where it is none of them."""
        offered = list(dict.fromkeys((*NATIONS, present)))
        self.nation.choices = options({nation: nation for nation in offered})
        self.known_of_nations = {nation: what_is_known(nation) for nation in offered}

    def settings(self) -> Settings:
        """The settings as typed; for a form that is valid."""
        typed = self.values_of(*(field.name for field in fields(Settings)))
        return Settings(
            **typed
            | {
                "paper_size": PaperSize(self.paper_size.data),
                "carry_over_milli": self.carry_over_milli.amount or 0,
                "check_grace_days": self.check_grace_days.amount,
            }
        )
