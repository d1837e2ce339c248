"""Decisions about waste: may this go in here, may it leave, may it be released? Of the drain: `sewer_rules`."""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction

from labsys.hazards.waste_codes import WasteCode
from labsys.hazards.waste_properties import HazardousProperty
from labsys.quantities import MG_PER_KG, MILLI, UL_PER_L, show_volume
from labsys.records.errors import Refused
from labsys.waste.meeting import Meeting, Solution, meeting
from labsys.waste.models import Pour, Quarantine, StatedProperties, WasteKind

NEARLY_FULL_SHARE = Fraction(9, 10)  # common practice, no source
QUARANTINE_DAYS = 7  # by when somebody has decided: common practice, no source

LIGHTEST_KG_PER_L = 0.95  # spent working solutions weigh 1.00 to 1.15 kg/L (from memory); outside this the scale or
HEAVIEST_KG_PER_L = 1.30  # the book is wrong


class WasteRefused(Refused):
    """The waste cannot be moved so; the message says why and what to do."""


class Fullness(StrEnum):
    """How full a container is, in words."""

    EMPTY = "empty"
    HAS_ROOM = "has room"
    NEARLY_FULL = "nearly full"
    FULL = "full"


def fullness(*, level_ul: int, capacity_ul: int) -> Fullness:
    """Say how full a container is.

    >>> str(fullness(level_ul=23_000_000, capacity_ul=25_000_000))
    'nearly full'
    """
    if level_ul >= capacity_ul:
        return Fullness.FULL
    if level_ul >= NEARLY_FULL_SHARE * capacity_ul:
        return Fullness.NEARLY_FULL
    return Fullness.HAS_ROOM if level_ul else Fullness.EMPTY


@dataclass(frozen=True)
class Poured:
    """What is poured: in words, its List of Waste code, how much, the silver in it as an estimate, and what it is.

    Without a kind it is not known what it is.
    """

    what: str
    waste_code: str
    volume_ul: int
    silver_low_mg: int = 0
    silver_high_mg: int = 0
    kind: WasteKind | None = None
    product_id: int | None = None
    water_parts_milli: int | None = None


@dataclass(frozen=True)
class WrongPour:
    """Why a pour should not be made, said before it and after it; what to do then; and the gas that may come off."""

    stop: str
    reason: str
    advice: str
    gas: str = ""


class Stopped(WasteRefused):
    """This should not be poured in. Nothing is recorded; what was poured already can be, as what it is."""

    def __init__(self, wrong: WrongPour):
        super().__init__(f"Stop. {wrong.stop} Nothing is recorded yet.", field="")
        self.wrong = wrong


@dataclass(frozen=True)
class Into:
    """The container a pour goes into, as the decision needs it: `holds` is what is in it, each different thing once."""

    name: str
    code: str
    holds: Sequence[Solution]
    why_not_known: str = ""
    is_quarantined: bool = False
    is_restated: bool = False


_NOTHING_MORE = "Pour nothing more into it."
VENT = "Never seal it: cap loose, stood apart in a tray under extraction, nothing beside it, the room aired."
_TELL = "Keep people away until somebody competent has looked."
_ASIDE = "Stand it aside, covered, with a note on it, until the technician has looked."


def wrong_pour(*, poured: Poured, solution: Solution, into: Into) -> WrongPour | None:
    """Say what is wrong with pouring something into a container, or None.

    One container holds one List of Waste code: mixing hazardous wastes of different categories is prohibited in its own
    right (Hazardous Waste (England and Wales) Regulations 2005, regulations 18 to 20; headings read), before any
    question of reaction. Then what is in it decides, by what it is: what is not known is never taken to be right.
    """
    met = meeting(solution, into.holds, code=into.code)
    gas = _gas(solution, into, met)
    if solution.kind is None:
        stop = f"It is not known what this is, so it goes into no container. {_ASIDE}"
        return _wrong(stop, f"It is not known what was poured into {into.name}.", gas)
    if poured.waste_code != into.code:
        both = f"Waste of code {poured.waste_code} {{}} {into.name}, which takes {into.code}."
        stop = " ".join(filter(None, (both.format("does not go into"), met.hazard if met else "")))
        return _wrong(stop, both.format("was poured into"), gas)
    if into.is_quarantined:
        stop = f"{into.name} is in quarantine. Use another container of this stream."
        return _wrong(stop, "The container was in quarantine when this was poured.", gas)
    if into.is_restated:
        stop = f"{into.name} was classified anew and leaves as it is. Use another container of this stream."
        return _wrong(stop, "The container was waiting to leave as it is when this was poured.", gas)
    if into.why_not_known:
        stop = f"{into.why_not_known} Nothing goes into {into.name} until that is put right. {_ASIDE}"
        return _wrong(stop, f"{into.why_not_known} This was poured to it all the same.", gas)
    if met:
        what_happens = met.hazard or "What they do to each other is not known."
        both = f"{_capital(solution.name)} {{}} {into.name}, which holds {met.with_what}. {what_happens}"
        return _wrong(both.format("does not go into"), both.format("was poured into"), gas)
    return None


def more_than_stated(*, is_restated: bool, difference_ul: int, trivial_ul: int) -> str:
    """Why a container holds more than its release stated; empty where a reading can be wrong by that."""
    if not is_restated or difference_ul <= trivial_ul:
        return ""
    return f"{show_volume(difference_ul)} more was found in it after it was classified anew: nobody knows what that is."


def unknown_found(why_not_known: str) -> WrongPour:
    """What it means that a container holds what nobody knows."""
    return _wrong(why_not_known, why_not_known, Quarantine.NOT_KNOWN)


def no_longer_as_stated(label: str) -> WrongPour:
    """What it means that a pour was corrected of which a release had spoken already."""
    reason = (
        f"A pour was corrected that went into {label} before it was classified anew: what was stated then may be wrong."
    )
    return _wrong(reason, reason, "")


def _gas(solution: Solution, into: Into, met: Meeting | None) -> str:
    """The gas that may come off: named, empty where none is on file, or that it is not known."""
    if met and met.hazard:
        return met.gas
    is_unknown = solution.kind is None or into.why_not_known or met or not (solution.groups or solution.is_harmless)
    return Quarantine.NOT_KNOWN if is_unknown and into.holds else ""


def _wrong(stop: str, reason: str, gas: str) -> WrongPour:
    freed = f"It may give off {gas}. How much is not known." if gas and gas != Quarantine.NOT_KNOWN else ""
    unknown = "What it may give off is not known." if gas == Quarantine.NOT_KNOWN else ""
    return WrongPour(
        stop=stop, reason=reason, gas=gas, advice=" ".join(filter(None, (_NOTHING_MORE, freed, unknown, VENT, _TELL)))
    )


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]


# No amount of what frees one of these is trivial; of the other two the nose warns long before they harm (from memory).
_NOSE_WARNS = frozenset({"", "ammonia", "sulfur dioxide"})


def is_trivial(*, wrong_ul: int, level_ul: int, carry_over_milli: int, gas: str) -> bool:
    """Say whether what was poured in wrongly is a trivial carry-over by the lab's own figure.

    >>> is_trivial(wrong_ul=50, level_ul=10_000, carry_over_milli=10, gas="ammonia")
    True
    """
    return 0 < wrong_ul * MILLI <= level_ul * carry_over_milli and _NOSE_WARNS.issuperset(gas.split(", "))


@dataclass(frozen=True)
class Restated:
    """What a release states anew of a container: code, components, hazardous properties, and who takes it so."""

    code: str
    components: str
    properties: str
    acceptance: str


_PROPERTY = re.compile(r"HP ?(1[0-5]|[1-9])", re.IGNORECASE)


def read_properties(text: str) -> str:
    """Read hazardous properties as typed and return them as they are printed, each once.

    >>> read_properties("hp4, HP 14 hp5")
    'HP 4, HP 5, HP 14'
    """
    numbers = {int(number) for number in _PROPERTY.findall(text)}
    if not numbers or _PROPERTY.sub("", text).strip(" ,;."):
        raise WasteRefused("Write the hazardous properties by their codes, such as HP 5, HP 14.", field="properties")
    return ", ".join(f"HP {number}" for number in sorted(numbers))


def stated_in_full(restated: Restated | None) -> Restated:
    """Return what a release states, once it states all of it. Raises WasteRefused naming what is missing."""
    missing = {
        "code": "Choose the code it leaves under.",
        "components": "Write what is in it, with the content of each.",
        "properties": "Write its hazardous properties, such as HP 5, HP 14.",
        "acceptance": "Write who takes it so, in writing: the consignee, the date and the reference.",
    }
    for name, message in missing.items():
        if restated is None or not getattr(restated, name).strip():
            raise WasteRefused(message, field=name)
    assert restated is not None  # noqa: S101 - nothing was missing
    return restated


def check_note(note: str) -> None:
    """Raise WasteRefused for a release without a reason."""
    if not note.strip():
        raise WasteRefused("Write what was found and what was done about it.", field="note")


def check_releases(*, person_id: int, pourer_ids: Collection[int | None], label: str) -> None:
    """Raise WasteRefused where somebody would release what they poured themselves."""
    if person_id in pourer_ids:
        raise WasteRefused(f"You poured or reported what is wrong in {label}. Somebody else has to release it.")


def read_statement(text: str, *, entry: WasteCode, nation: str) -> str:
    """Read what somebody states of the hazardous properties of a waste, and return it as it is printed.

    Raises WasteRefused where it does not fit the code: one without an asterisk is for waste that has none, and of a
    mirror pair the one with the asterisk is for waste that has at least one; so is one of which nobody knows.
    """
    if text.strip().lower() != StatedProperties.NONE:
        properties = read_properties(text)
        if entry.is_hazardous:
            return properties
        raise WasteRefused(
            f"{entry.code} is for waste that has none. With {properties} it is not that waste: it leaves by a "
            "release from quarantine, under the code it really has.",
            field="properties",
        )
    if entry.is_hazardous and not entry.is_always_hazardous(nation):
        raise WasteRefused(
            f"{entry.code} is for waste that has at least one. With none it is not that waste: it leaves by a "
            "release from quarantine, under the code it really has.",
            field="properties",
        )
    return StatedProperties.NONE


def check_some_stated(properties: str, *, worked_out: Collection[HazardousProperty]) -> None:
    """Raise WasteRefused where a waste is said to have no hazardous property, and what went in comes to some."""
    if properties == StatedProperties.NONE and worked_out:
        codes = ", ".join(each.code for each in worked_out)
        raise WasteRefused(f"What went in comes to {codes}. State what it has.", field="properties")


def check_correctable(*, is_corrected: bool, left_at: datetime | None, label: str, reason: str) -> None:
    """Raise WasteRefused where a pour cannot be corrected, saying what to do instead."""
    if left_at is not None:
        raise WasteRefused(
            f"{label} has left. Tell carrier and consignee in writing what was really in it, and keep their answer "
            "with the consignment note; report it as an incident."
        )
    if is_corrected:
        raise WasteRefused("This was corrected already. Correct the row that took its place.")
    if not reason.strip():
        raise WasteRefused("Write why it is corrected.", field="reason")


def of_the_same_bath(old: Pour, poured: Poured | None) -> Poured:
    """What came out of a bath at another volume: what it was is known. Raises WasteRefused where nothing is left."""
    if poured is None:
        raise WasteRefused("It came out of a bath or a bottle here. Correct how much of it went in.", field="volume")
    return Poured(
        old.what,
        old.waste_code,
        poured.volume_ul,
        old.silver_low_mg,
        old.silver_high_mg,
        old.kind,
        old.product_id,
        old.water_parts_milli,
    )


def check_not_collected(*, collected_at: datetime | None, label: str) -> None:
    """Raise WasteRefused when the container has left the lab."""
    if collected_at is not None:
        raise WasteRefused(f"{label} was collected. Choose the container that took its place.", field="container_id")


def check_in_use(*, at: datetime, opened_at: datetime, label: str, field: str) -> None:
    """Raise WasteRefused for a time before a container was put into use; instants are typed to the minute."""
    if at < opened_at.replace(second=0, microsecond=0):
        raise WasteRefused(
            f"{label} was not in use yet then. Check the time, or choose the container that stood there.", field=field
        )


def check_found(*, found_ul: int, capacity_ul: int, label: str) -> None:
    """Raise WasteRefused when more was found in a container than it can hold."""
    if found_ul > capacity_ul:
        raise WasteRefused(
            f"{label} holds {show_volume(capacity_ul)} when full: less than what you found. Check figure and unit.",
            field="found",
        )


def kg_per_litre(*, weight_mg: int | None, volume_ul: int) -> float | None:
    """Return weight over volume, or None where one of them is not known. [kg/L]"""
    if weight_mg is None or not volume_ul:
        return None
    return (weight_mg / MG_PER_KG) / (volume_ul / UL_PER_L)


def difference_in_words(difference_ul: int | None) -> str:
    """Say how the carrier's volume compares with the book's; empty where the carrier gave none.

    >>> difference_in_words(-10_000), difference_in_words(0)
    ('10 mL less than the book', 'as in the book')
    """
    if difference_ul is None:
        return ""
    if not difference_ul:
        return "as in the book"
    return f"{show_volume(abs(difference_ul))} {'more' if difference_ul > 0 else 'less'} than the book"


def weight_warning(*, weight_mg: int | None, volume_ul: int) -> str:
    """Say when weight and volume cannot both be right, or an empty text."""
    density = kg_per_litre(weight_mg=weight_mg, volume_ul=volume_ul)
    if density is None or LIGHTEST_KG_PER_L <= density <= HEAVIEST_KG_PER_L:
        return ""
    return f"{density:.2f} kg per litre is not what spent solutions weigh. Check the scale, the tare and the volume."
