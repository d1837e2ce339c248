"""What people may type about duty."""

from collections.abc import Iterable, Sequence
from typing import Any

from wtforms import BooleanField, IntegerField, RadioField, SelectField, StringField
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.competences.models import Competence
from labsys.duty.models import Alert, AloneRule, CallIn, DutyKind, StaffingRule, Turn
from labsys.duty.rota import OnDuty
from labsys.duty.rules import Settings
from labsys.duty.service import Named
from labsys.forms import LabForm, given, options
from labsys.people.models import Role

NOBODY = 0
THIS_DATE, EVERY_WEEK = "date", "week"
ALONE_WORDS = {
    AloneRule.NEVER: "Nobody works alone",
    AloneRule.CALL_IN: "Alone with a call-in: whoever is alone is asked at intervals",
    AloneRule.ADULTS: "Adults may, where nothing dangerous is done; anybody else not",
}
MOST_CONTACTS = 5


def _person(label: str) -> SelectField:
    return SelectField(label, coerce=int, default=NOBODY)


def _telephone(label: str) -> StringField:
    return StringField(label, [Optional(), Length(max=Turn.TELEPHONE_LENGTH)])


class TurnsForm(LabForm):
    """Who is on duty at one opening."""

    keyholder = _person("Keyholder")
    keyholder_telephone = _telephone("Reached at")
    first_aider = _person("First aider")
    first_aider_telephone = _telephone("Reached at")
    on_call = _person("On call")
    on_call_telephone = _telephone("Reached at")
    holds = RadioField("For", [InputRequired("Choose one of the two.")], default=EVERY_WEEK)

    @classmethod
    def of(cls, opening: OnDuty) -> "TurnsForm":
        """The form as the opening stands now."""
        data: dict[str, object] = {}
        for kind in DutyKind:
            turn = opening.of(kind)
            data[kind.name.lower()] = turn.person_id if turn else NOBODY
            data[f"{kind.name.lower()}_telephone"] = turn.telephone if turn else ""
        return cls(**data)

    def offer(self, *, people: Iterable[tuple[int, str]], weekday: str, date: str) -> None:
        named = [(NOBODY, "Nobody yet"), *people]
        for kind in DutyKind:
            self[kind.name.lower()].choices = named
        self.holds.choices = [(EVERY_WEEK, f"every {weekday}"), (THIS_DATE, f"{date} alone")]

    @property
    def named(self) -> dict[DutyKind, Named]:
        """Who was named, by what for."""
        return {
            kind: Named(self[kind.name.lower()].data, self[f"{kind.name.lower()}_telephone"].data or "")
            for kind in DutyKind
            if self[kind.name.lower()].data != NOBODY
        }


class RulesForm(LabForm):
    """What the lab does about working alone and being overdue."""

    alone = RadioField(
        "Working where nobody else is in the building",
        [InputRequired("Choose one.")],
        choices=options({rule.value: words for rule, words in ALONE_WORDS.items()}),
    )
    ask_every_minutes = IntegerField(
        "Asked every, minutes",
        [InputRequired("Enter minutes."), NumberRange(5, 240)],
        description="Of whoever is alone.",
    )
    answer_within_minutes = IntegerField(
        "An answer within, minutes",
        [InputRequired("Enter minutes."), NumberRange(1, 120)],
        description="Then somebody is told, and after as long again the next.",
    )
    overdue_after_minutes = IntegerField(
        "Overdue after, minutes",
        [InputRequired("Enter minutes; 0 is allowed."), NumberRange(0, 240)],
        description="Past the time they were to leave by.",
    )

    @property
    def settings(self) -> Settings:
        """As typed; for a form that is valid."""
        return Settings(
            AloneRule(self.alone.data),
            given(self.ask_every_minutes.data),
            given(self.answer_within_minutes.data),
            given(self.overdue_after_minutes.data),
        )


class StaffingForm(LabForm):
    """Who has to be there for a place or a process."""

    subject = SelectField("For", [InputRequired("Choose a place or a process.")])
    least_people = IntegerField(
        "People in the building, at least",
        [InputRequired("Enter a number; 1 is whoever works."), NumberRange(1, StaffingRule.MOST_PEOPLE)],
        default=1,
        description="Whoever works there counted.",
    )
    who = SelectField("Among them", default="")
    staffed_only = BooleanField("In staffed hours only: a keyholder or first aider is on duty")

    def offer(
        self,
        *,
        stations: Iterable[tuple[int, str]],
        processes: Iterable[tuple[int, str]],
        inductions: Iterable[tuple[int, str]],
    ) -> None:
        self.subject.choices = [
            ("", "Choose"),
            *((f"station-{key}", name) for key, name in stations),
            *((f"process-{key}", name) for key, name in processes),
        ]
        self.who.choices = [
            ("", "Anybody"),
            *((f"role-{role.value}", f"Somebody who is {role.value}") for role in Role),
            *((f"induction-{key}", f"Somebody who holds “{name}”") for key, name in inductions),
            *((f"competence-{what.value}", f"Somebody competent for {what}") for what in Competence),
        ]

    @property
    def asked(self) -> dict[str, Any]:
        """What a valid form asks for, as the act takes it."""
        kind, _, key = (self.subject.data or "").partition("-")
        who, _, which = (self.who.data or "").partition("-")
        return {
            "station_id": int(key) if kind == "station" else None,
            "process_id": int(key) if kind == "process" else None,
            "least_people": given(self.least_people.data),
            "role": Role(which) if who == "role" else None,
            "induction_id": int(which) if who == "induction" else None,
            "competence": Competence(which) if who == "competence" else None,
            "staffed_only": bool(self.staffed_only.data),
        }


class ContactsForm(LabForm):
    """Who is told, in order."""

    first = _person("First")
    second = _person("Then")
    third = _person("Then")
    fourth = _person("Then")
    fifth = _person("Then")

    def offer(self, people: Sequence[tuple[int, str]]) -> None:
        for field in self._ordered():
            field.choices = [(NOBODY, "Nobody"), *people]

    @classmethod
    def of(cls, person_ids: Sequence[int]) -> "ContactsForm":
        names = ("first", "second", "third", "fourth", "fifth")
        return cls(**dict(zip(names, person_ids, strict=False)))

    @property
    def person_ids(self) -> list[int]:
        return [field.data for field in self._ordered() if field.data != NOBODY]

    def _ordered(self) -> tuple[SelectField, ...]:
        return self.first, self.second, self.third, self.fourth, self.fifth


class AnswerForm(LabForm):
    answer = StringField(
        "What you do", [InputRequired("Say what you do, such as: I am going there."), Length(max=Alert.ANSWER_LENGTH)]
    )


class OutsideForm(LabForm):
    outside = StringField(
        "Who outside expects your call",
        [InputRequired("Write who, with a number."), Length(max=CallIn.OUTSIDE_LENGTH)],
        description="A name and a number. Ring them when you leave.",
    )
