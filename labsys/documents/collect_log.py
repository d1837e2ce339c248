"""What the waste log of a period says, read and added up; the page and the PDF are both made from it."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from labsys.database import DbSession
from labsys.documents import queries
from labsys.documents.collect import day, issue_of, moment
from labsys.documents.waste_log import Balance, BalanceLine, Collection, Container, Pour, SilverRange, WasteLogData
from labsys.hazards.waste_codes import waste_code
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Unit, VesselKind
from labsys.people.models import Person
from labsys.quantities import show_mass
from labsys.records import queries as records
from labsys.records.queries import Head
from labsys.waste import models as waste_models
from labsys.waste import queries as waste
from labsys.waste.queries import ContainerHistory

_VESSELS = {
    VesselKind.BOTTLE: "In bottles",
    VesselKind.BATH: "In baths",
    VesselKind.CONTAINER: "In waste containers",
}
_ACCOUNTS = {  # how each account is called when matter came from it, and when matter went to it
    Account.SUPPLIER: ("From suppliers", "Back to suppliers"),
    Account.TAP: ("From the tap", "Mixing undone: back to the tap"),
    Account.POWDER_DISSOLVED: ("Powder dissolved", "Powder dissolved"),
    Account.FROM_OUTSIDE: ("From outside the book, such as developer used once", "Back outside the book"),
    Account.FOUL_SEWER: ("Back from the foul sewer", "To the foul sewer"),
    Account.CARRIER: ("Back from the carrier", "To the carrier"),
    Account.CARRIED_OUT: ("Carried out on film and paper, corrected", "Carried out on film and paper"),
    Account.EVAPORATED: ("Evaporated, corrected", "Evaporated"),
}
_ESTIMATES = frozenset({Account.CARRIED_OUT, Account.EVAPORATED})


@dataclass(frozen=True)
class Period:
    """Whole days of the lab's calendar, the last one included."""

    first: date
    last: date

    @classmethod
    def month_so_far(cls, today: date) -> "Period":
        return cls(today.replace(day=1), today)

    def instants(self, *, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Return when the first day begins and when the day after the last begins."""
        return _start_of(self.first, zone=zone), _start_of(self.last + timedelta(days=1), zone=zone)

    def __str__(self) -> str:
        """The period in words.

        >>> str(Period(date(2026, 3, 1), date(2026, 3, 31)))
        '1 March 2026 to 31 March 2026'
        """
        if self.first == self.last:
            return f"{self.first:%-d %B %Y}"
        return f"{self.first:%-d %B %Y} to {self.last:%-d %B %Y}"


def _start_of(local_day: date, *, zone: ZoneInfo) -> datetime:
    """The first instant of a day. Where the clocks skip midnight it is the moment of the change: PEP 495, fold 0."""
    return datetime.combine(local_day, time.min, tzinfo=zone).astimezone(UTC)


def collect_waste_log(
    session: DbSession, *, period: Period, issued_by: Person, head: Head, public_url: str, now: datetime
) -> WasteLogData:
    """Read all that moved in a period, and every container that was in the lab in it with all that it holds."""
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    start, end = period.instants(zone=zone)
    histories = waste.histories(session, start=start, end=end)
    levels = queries.levels_at(session, [one.container.vessel_id for one in histories], end=end)
    return WasteLogData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/documents/waste-log?from={period.first}&to={period.last}",
            scan_code=f"{period.first} to {period.last}",
        ),
        period=str(period),
        balance=_balance(session, start=start, end=end, zone=zone),
        containers=tuple(
            _container(one, level_ul=levels.get(one.container.vessel_id, 0), end=end, zone=zone) for one in histories
        ),
    )


def _balance(session: DbSession, *, start: datetime, end: datetime, zone: ZoneInfo) -> Balance:
    liquids = ledger.balance(session, unit=Unit.UL, start=start, end=end)
    came_in = [
        BalanceLine(f"{words} when the period began", liquids.before[kind])
        for kind, words in _VESSELS.items()
        if liquids.before.get(kind)
    ]
    went = [
        BalanceLine(f"{words} when it ended", liquids.after[kind])
        for kind, words in _VESSELS.items()
        if liquids.after.get(kind)
    ]
    for account, (source, destination) in _ACCOUNTS.items():
        amount = liquids.accounts.get(account, 0)
        if account is Account.FOUL_SEWER:
            named = [_discharge(one, zone=zone) for one in waste.discharges(session, start=start, end=end)]
            went += named
            amount -= sum(line.volume_ul for line in named)
        if amount < 0:
            came_in.append(BalanceLine(source, -amount, estimate=account in _ESTIMATES))
        elif amount > 0:
            went.append(BalanceLine(destination, amount, estimate=account in _ESTIMATES))
    if powder := _powder(ledger.balance(session, unit=Unit.MG, start=start, end=end)):
        came_in.append(BalanceLine(powder, 0))
    return Balance(tuple(came_in), tuple(went), liquids.unexplained)


def _discharge(made: waste_models.Discharge, *, zone: ZoneInfo) -> BalanceLine:
    named = f"To the foul sewer: {made.what} ({made.waste_code}), {moment(made.discharged_at, zone=zone)}"
    named += f", by {made.recorded_by.name}"
    return BalanceLine(f"{named}\nWrong: {made.wrong_because}" if made.wrong_because else named, made.volume_ul)


def _powder(powders: ledger.Balance) -> str:
    """Say what is known of powders, which are kept by weight and so have no place in a sum of litres."""
    if not (any(powders.before.values()) or any(powders.after.values()) or powders.accounts):
        return ""
    return (
        f"Powders, by weight: {show_mass(-powders.accounts.get(Account.SUPPLIER, 0))} from suppliers, "
        f"{show_mass(powders.accounts.get(Account.POWDER_DISSOLVED, 0))} dissolved, "
        f"{show_mass(powders.unexplained)} unexplained, {show_mass(sum(powders.after.values()))} left"
    )


def _container(history: ContainerHistory, *, level_ul: int, end: datetime, zone: ZoneInfo) -> Container:
    container, collected = history.container, history.collected
    capacity = container.vessel.capacity
    quarantine = next(
        (
            one
            for one in container.quarantines
            if one.started_at < end and (one.released_at is None or one.released_at >= end)
        ),
        None,
    )
    return Container(
        code=container.label,
        stream=container.stream.name,
        waste_code=f"{container.stream.code} {waste_code(container.stream.code).text}",
        opened_at=day(container.opened_at, zone=zone),
        closed_at=day(collected.collection.collected_at, zone=zone) if collected else "",
        level_ul=min(max(level_ul, 0), capacity),  # entries dated back may cross: more out than had come in by then
        capacity_ul=capacity,
        pours=tuple(_pour(one, zone=zone) for one in history.pours),
        collections=(_collection(collected, zone=zone),) if collected else (),
        quarantined_because=f"{quarantine.reason} {quarantine.advice}" if quarantine and not collected else "",
    )


def _pour(made: waste_models.Pour, *, zone: ZoneInfo) -> Pour:
    return Pour(
        poured_at=moment(made.poured_at, zone=zone),
        bath=made.what,
        volume_ul=made.volume_ul,
        silver=SilverRange(made.silver_low_mg, made.silver_high_mg) if made.silver_high_mg else None,
        by=made.recorded_by.name,
        wrong_because=made.wrong_because,
    )


def _collection(line: waste_models.CollectionLine, *, zone: ZoneInfo) -> Collection:
    return Collection(
        collected_on=day(line.collection.collected_at, zone=zone),
        note_code=line.collection.note_code,
        carrier=line.collection.carrier,
        book_ul=line.book_ul,
        carrier_ul=line.carrier_ul,
        weight_mg=line.weight_mg,
    )
