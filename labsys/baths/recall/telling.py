"""Telling people of their doubtful work: one mail to each, with what can be mended and by whose word."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.baths.models import Place, Use, Work
from labsys.baths.recall.models import Recall
from labsys.baths.recall.rules import Mend, mend
from labsys.baths.use_pages import use_in_words
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.mail import service as mail
from labsys.mail.kinds import RECALL, Message
from labsys.people.acts import Act
from labsys.records.queries import zone
from labsys.timetable.local_time import to_local

GLOVES = "The same gloves, air and care as with that bath at any time; its SDS comes first."


@dataclass(frozen=True)
class WhatToDo:
    """What can be mended of pieces of one material after one kind of bath."""

    work: Work
    place: Place
    material: Material
    mend: Mend

    @property
    def named(self) -> str:
        """What it is about: the material and the bath."""
        name = MATERIAL_NAMES[self.material]
        return f"{name[:1].upper()}{name[1:]}, {self.place}"

    @property
    def in_words(self) -> str:
        return f"{self.named}: {self.mend.do} {self.mend.source}".strip()


def what_to_do(recall: Recall, uses: Sequence[Use] = ()) -> list[WhatToDo]:
    """What to do about work that a recall names, each different thing once; without any, about all that may be."""
    told: dict[tuple[Material, Mend], WhatToDo] = {}
    for named in recall.baths:
        bath = named.bath
        through = {use.material for use in uses if any(part.bath_id == bath.id for part in use.baths)}
        materials = through if uses else set(bath.line.work.materials)
        for material in sorted(materials):
            each = mend(work=bath.line.work, place=bath.place, fault=recall.fault, material=material)
            told.setdefault((material, each), WhatToDo(bath.line.work, bath.place, material, each))
    return list(told.values())


def baths_in_words(recall: Recall) -> str:
    return ", ".join(f"{named.bath.name} {named.bath.code}" for named in recall.baths)


def tell(act: Act, recall: Recall, uses: Sequence[Use]) -> None:
    """Step: write to everybody whose work it is, once for each recall, and once more for what comes late."""
    by_person: dict[int, list[Use]] = {}
    for use in uses:
        by_person.setdefault(use.person_id, []).append(use)
    letters = []
    for own in by_person.values():
        key = f"recall {recall.id}, work {min(use.id for use in own)}"
        subject = f"Look at your work: {recall.baths[0].bath.name} was {recall.fault}"
        letters.append(
            mail.Letter(Message(RECALL, key, subject, _body(act, recall, own), f"/recalls/{recall.id}"), own[0].person)
        )
    mail.queue_all(act.session, letters, by=None, now=act.now)


def _body(act: Act, recall: Recall, own: Sequence[Use]) -> str:
    at = zone(act.session)
    lines = [
        f"Something was wrong with {baths_in_words(recall)}: {recall.fault}. {recall.why}",
        "This of yours went through it:",
        "\n".join(_line(use, f"{to_local(use.used_at, zone=at):%-d %b %Y, %H:%M}") for use in own),
        "What to do:",
        *(each.in_words for each in what_to_do(recall, own)),
        GLOVES,
        "Work of yours that you did not log may have gone through it as well. Ask the technician if you are not sure.",
    ]
    return "\n\n".join(lines) + "\n"


def _line(use: Use, moment: str) -> str:
    whose = f", for {use.class_name}: tell your class" if use.class_name else ""
    return f"- {use_in_words(use)}, {use.line.name}, {moment}{whose}"
