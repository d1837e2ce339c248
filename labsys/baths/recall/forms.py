"""What is typed of a recall."""

from collections.abc import Mapping
from datetime import datetime

from wtforms import BooleanField, RadioField, TextAreaField
from wtforms.validators import InputRequired, Length

from labsys.baths.recall.models import Fault, Recall
from labsys.forms import LabForm, options


def _fault(*faults: Fault) -> RadioField:
    choices = options({fault.value: str(fault).capitalize() for fault in faults})
    return RadioField("What is wrong", [InputRequired("Choose what is wrong.")], choices=choices)


def _why() -> TextAreaField:
    return TextAreaField(
        "How it was found",
        [InputRequired("Write how it was found."), Length(max=Recall.TEXT_LENGTH)],
        description="Everybody who is told reads it.",
    )


class RecallForm(LabForm):
    """Work through one bath is called doubtful; `offer` hands in since when it may be."""

    fault = _fault(Fault.EXHAUSTED, Fault.WEAK, Fault.STRONG, Fault.WRONG)
    since = RadioField("What went through it is doubtful", [InputRequired("Choose since when.")])
    why = _why()

    def offer(self, moments: Mapping[datetime, str]) -> None:
        self.since.choices = options({moment.isoformat(): words for moment, words in moments.items()})

    @property
    def began(self) -> datetime:
        """Since when it is doubtful; only of a valid form."""
        return datetime.fromisoformat(self.since.data)


class LotRecallForm(LabForm):
    """Every bath that a lot got into is recalled."""

    fault = _fault(Fault.LOT, Fault.WEAK, Fault.STRONG)
    why = _why()
    with_not_known = BooleanField(
        "Also what came out of bottles whose lot nobody noted",
        default=True,
        description="They may be of this lot: nobody can rule it out.",
    )
    sets_apart = BooleanField("Put in quarantine what is left in those bottles", default=True)


class CloseRecallForm(LabForm):
    closing = TextAreaField(
        "Why it is closed",
        [InputRequired("Write why it is closed."), Length(max=Recall.TEXT_LENGTH)],
        description="Such as: everybody has seen to theirs; the bath is dumped.",
    )
