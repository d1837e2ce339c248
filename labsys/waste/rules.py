"""Decisions about waste: is this the right container, and may this go down the drain?"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction

from labsys.quantities import MG_PER_KG, UL_PER_L, show_volume
from labsys.records.errors import Refused

NEARLY_FULL_SHARE = Fraction(9, 10)  # common practice, no source

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
    """What is poured: in words, its List of Waste code, how much, and the silver in it as an estimate."""

    what: str
    waste_code: str
    volume_ul: int
    silver_low_mg: int = 0
    silver_high_mg: int = 0


@dataclass(frozen=True)
class WrongPour:
    """Why a pour should not have been made, and what to do about it now."""

    reason: str
    advice: str


def wrong_pour(*, poured_code: str, stream_name: str, stream_code: str, quarantined: bool) -> WrongPour | None:
    """Say what is wrong with pouring waste of one code into a container of another, or None.

    One container holds one List of Waste code: mixing hazardous wastes of different categories is prohibited in its own
    right (Hazardous Waste (England and Wales) Regulations 2005, regulations 18 to 20; headings read), before any
    question of reaction.
    """
    if poured_code != stream_code:
        return WrongPour(
            reason=f"Waste of code {poured_code} was poured into {stream_name}, which takes {stream_code}.",
            advice=(
                "Pour nothing more into it. Leave the cap loose and air the room: acids and fixers or sulfides give "
                "off gas. Keep people away until the technician has looked. Tell the carrier what is in it before it "
                "leaves."
            ),
        )
    if quarantined:
        return WrongPour(
            reason="The container was in quarantine when this was poured.",
            advice="Pour nothing more into it. Use another container of this stream.",
        )
    return None


def wrong_discharge(*, poured_code: str) -> str:
    """Say why this should not have gone down the drain, or an empty text.

    Common practice, no source: only what is not hazardous waste, and only as far as the sewerage undertaker agrees.
    """
    if poured_code.endswith("*"):
        return (
            f"Waste of code {poured_code} is hazardous and belongs in a container, not in the drain. Tell the manager."
        )
    return ""


def check_not_collected(*, collected_at: datetime | None, label: str) -> None:
    """Raise WasteRefused when the container has left the lab."""
    if collected_at is not None:
        raise WasteRefused(f"{label} was collected. Choose the container that took its place.", field="container_id")


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
