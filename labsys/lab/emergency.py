"""Whom to ring and where help is in this lab: the one answer of every page, label and sheet."""

from dataclasses import dataclass, fields

from labsys.hazards.nations import emergency_number, is_number_sure
from labsys.records.models import Lab

NOT_STATED = "not stated: ask the lab's manager"
NO_LINE = "No emergency line is entered for this lab: the lab's manager enters it."
NOBODY_TOLD = "NOBODY HAS BEEN TOLD."
OWN_NUMBER = "Where your country has another number, ring that one."
READING_TELLS_NOBODY = "Reading this tells nobody. Ring first. A report that has not been sent says so."


@dataclass(frozen=True, kw_only=True)
class Emergency:
    """What a lab has stated for an emergency; what is empty was not stated. Without a lab, nothing was."""

    lab_name: str = ""
    nation: str | None = None
    emergency: str = ""
    first_aider: str = ""
    eyewash: str = ""
    spill_kit: str = ""
    hospital: str = ""
    telephone: str = ""
    out_of_hours: str = ""
    address: str = ""

    @property
    def number(self) -> str:
        return emergency_number(self.nation)

    @property
    def number_note(self) -> str:
        """What is to be said of the number where it may be another."""
        return "" if is_number_sure(self.nation) else OWN_NUMBER

    @property
    def call(self) -> str:
        """Whom to ring, in the order to ring them."""
        ring = f"Ring {self.number}. {self.number_note}".strip()
        return f"{ring} Help here: {self.emergency}" if self.emergency else f"{ring} {NO_LINE}"

    @property
    def call_on_a_label(self) -> str:
        """The same, where a label has room for one line."""
        return f"Ring {self.number}. Help here: {self.emergency}" if self.emergency else f"Ring {self.number}."

    @property
    def nobody_told(self) -> str:
        """What stands wherever a report has reached nobody."""
        here = f"here {self.emergency}" if self.emergency else "whoever is in charge here"
        return f"{NOBODY_TOLD} Ring {self.number} if anybody is hurt or it burns, and {here}."

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """Where help is; what nobody has stated is said to be so, never left out."""
        stated = (
            ("First aider", self.first_aider),
            ("Eyewash", self.eyewash),
            ("Spill kit", self.spill_kit),
            ("Hospital", self.hospital),
            ("Telephone here", self.telephone),
            ("Out of hours", self.out_of_hours),
            ("We are at", self.address),
        )
        return tuple((name, text or NOT_STATED) for name, text in stated)


def emergency_of(lab: Lab | None) -> Emergency:
    """What this lab has stated; before there is a lab, nothing."""
    if lab is None:
        return Emergency()
    stated = {field.name: getattr(lab, field.name) for field in fields(Emergency) if field.name != "lab_name"}
    return Emergency(lab_name=lab.name, **stated)
