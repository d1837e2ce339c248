"""Decisions about the lab's own settings: what they may be, and what stood against one."""

from collections.abc import Collection
from dataclasses import asdict, dataclass, fields
from difflib import get_close_matches
from enum import StrEnum
from zoneinfo import available_timezones

from labsys.hazards.nations import ELSEWHERE, Nation
from labsys.records.errors import Refused
from labsys.records.models import Lab, PaperSize
from labsys.records.rules import PREFIX_PATTERN

NATIONS = (*Nation, ELSEWHERE)
MOST_GRACE_DAYS = 60  # house rule: what waits longer is not waited for
MOST_CARRY_OVER_MILLI = 50  # what is more than a twentieth nobody calls trivial: common practice, no source


class Drain(StrEnum):
    """Where the sinks of a lab drain to. Photographic solutions may go to the foul sewer alone, by consent."""

    FOUL_SEWER = "foul sewer"
    SEPTIC_TANK = "septic tank or cesspit"
    SURFACE_WATER = "surface water"


class LabRefused(Refused):
    """A setting of the lab cannot be used; the message says why and what is known."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Everything a lab can change about itself. The names are those of the table's columns."""

    name: str
    timezone: str
    nation: str
    address: str = ""
    paper_size: PaperSize = PaperSize.A4
    emergency: str = ""
    first_aider: str = ""
    eyewash: str = ""
    spill_kit: str = ""
    hospital: str = ""
    telephone: str = ""
    out_of_hours: str = ""
    carry_over_milli: int = 10
    check_grace_days: int | None = None
    drains_to: str = ""
    undertaker: str = ""


def settings_of(lab: Lab) -> Settings:
    """The settings of a lab as they stand."""
    return Settings(**{field.name: getattr(lab, field.name) for field in fields(Settings)})


def check_settings(settings: Settings, *, known_nations: Collection[str] = NATIONS) -> None:
    """Raise LabRefused for what cannot be used, naming what is known."""
    if not settings.name:
        raise LabRefused("Give the lab its name, as it is printed on labels.", field="name")
    check_zone(settings.timezone)
    if settings.nation not in known_nations:
        raise LabRefused(
            f"{settings.nation!r} is not a nation whose rules are known here. Known: {', '.join(Nation)}. "
            f"For a lab elsewhere: {ELSEWHERE}.",
            field="nation",
        )
    if settings.drains_to not in ("", *Drain):
        raise LabRefused(f"The drains lead to one of: {', '.join(Drain)}; or it is not known.", field="drains_to")
    if not 0 <= settings.carry_over_milli <= MOST_CARRY_OVER_MILLI:
        raise LabRefused(
            f"A trivial carry-over is from 0 to {MOST_CARRY_OVER_MILLI // 10} % of what is in a container.",
            field="carry_over_milli",
        )
    if settings.check_grace_days is not None and not 0 <= settings.check_grace_days <= MOST_GRACE_DAYS:
        raise LabRefused(f"The grace of a check is from 0 to {MOST_GRACE_DAYS} days.", field="check_grace_days")
    for name, text in asdict(settings).items():
        if not isinstance(text, str):
            continue
        longest = Lab.NAME_LENGTH if name == "name" else Lab.TEXT_LENGTH
        if len(text) > longest:
            raise LabRefused(f"Use at most {longest} characters for the {name.replace('_', ' ')}.", field=name)


def check_zone(name: str) -> None:
    """Raise LabRefused unless there is such a time zone, naming the one that is written most alike.

    >>> check_zone("london")
    Traceback (most recent call last):
    labsys.lab.rules.LabRefused: 'london' is not a time zone. Known and much alike: Europe/London.
    """
    zones = available_timezones()
    if name in zones:
        return
    of_city = [zone for zone in sorted(zones) if zone.rpartition("/")[2].casefold() == name.casefold()]
    alike = [*of_city, *get_close_matches(name, sorted(zones), n=1, cutoff=0.8)]
    known = f"Known and much alike: {alike[0]}." if alike else "Known are names such as Europe/London."
    raise LabRefused(f"{name!r} is not a time zone. {known}", field="timezone")


def check_prefix(prefix: str) -> None:
    """Raise LabRefused unless codes can begin so."""
    if not PREFIX_PATTERN.fullmatch(prefix):
        raise LabRefused("The prefix of codes is two to four capital letters, such as KD.")
