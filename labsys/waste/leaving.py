"""May a container leave? Page, act and papers ask here."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from labsys.waste.contents import Contents, hazards_in
from labsys.waste.rules import WasteRefused


@dataclass(frozen=True)
class Stays:
    """Why a container may not be handed over, as a page and as a refusal say it; whether stating is missing."""

    why: str
    refusal: str
    is_to_be_stated: bool = False


def why_it_stays(contents: Contents) -> Stays | None:
    """Say why a container may not be handed over; None where it may. What is not known is never taken as known."""
    container = contents.container
    label = container.label
    if not container.vessel.level:
        return Stays(
            "Empty by the book. If there is something in it, correct its level first.",
            f"{label} is empty by the book. Correct its level first.",
        )
    if container.quarantine is not None:
        reason = container.quarantine.reason
        return Stays(f"In quarantine: it stays. {reason}", f"{label} is in quarantine and stays. {reason}")
    if why := contents.why_not_known:
        what_to_do = "Correct the pour, or put it in quarantine and have it classified."
        return Stays(f"{why} {what_to_do}", f"{label} stays. {why} {what_to_do}")
    if question := hazards_in(contents, going_in=()).open_question:
        first = f"State its hazardous properties first: {question}."
        return Stays(first, f"{label} stays. {first}", is_to_be_stated=True)
    return None


def check_poured_before(contents: Contents, *, collected_at: datetime) -> None:
    """Raise WasteRefused where a container would have left before something was poured into it."""
    until = collected_at + timedelta(minutes=1)  # an instant is typed to the minute
    late = next((pour.what for pour in contents.pours if pour.poured_at >= until), None)
    if late is not None:
        label = contents.container.label
        raise WasteRefused(
            f"“{late}” was poured into {label} after that. Check when it was collected.", field="collected_at"
        )
