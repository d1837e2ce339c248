"""What the waste log of a period says, read and added up; the page and the PDF are both made from it."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import datetime

from sqlalchemy import func, select

from labsys.database import DbSession
from labsys.documents.occasion import Occasion
from labsys.documents.waste_log.data import (
    Balance,
    BalanceLine,
    Collected,
    Container,
    Correction,
    Discharge,
    Pour,
    Powders,
    SilverRange,
    StoreRow,
    StreamTotal,
    WasteLogData,
)
from labsys.hazards.waste_codes import waste_code
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Movement, Posting, Unit, VesselKind
from labsys.ledger.rules import show
from labsys.store import queries as store
from labsys.timetable.period import Period
from labsys.waste import models as waste_models
from labsys.waste import queries as waste
from labsys.waste.queries import ContainerHistory, LevelCorrection

_VESSELS = {VesselKind.BOTTLE: "In bottles", VesselKind.BATH: "In baths", VesselKind.CONTAINER: "In waste containers"}
_ACCOUNTS = {  # how each account is called when matter came from it, and when matter went to it
    Account.SUPPLIER: ("From suppliers", "Back to suppliers"),
    Account.TAP: ("From the tap", "Mixing undone: back to the tap"),
    Account.POWDER_DISSOLVED: ("Powder dissolved", "Powder dissolved"),
    Account.FROM_OUTSIDE: ("From outside the book, such as developer used once", "Back outside the book"),
    Account.FOUL_SEWER: ("Back from the foul sewer", "To the foul sewer"),
    Account.CARRIER: ("Back from the carrier", "To the carrier"),
    Account.CARRIED_OUT: ("Carried out on film and paper, corrected", "Carried out on film and paper"),
    Account.EVAPORATED: ("Evaporated, corrected", "Evaporated"),
    Account.SPILLED: ("Spilled, corrected", "Spilled"),
    Account.GIVEN: ("Given to others, corrected", "Given to somebody outside the lab"),
}
_OWN_FIGURE = frozenset({Account.SUPPLIER, Account.POWDER_DISSOLVED, Account.UNEXPLAINED})
_ESTIMATES = frozenset({Account.CARRIED_OUT, Account.EVAPORATED})
# Fixers, bleaches, and what is left of them once silver has been taken out, by the List of Waste's own words.
_HOLD_SILVER = frozenset({"09 01 04*", "09 01 05*", "09 01 06*", "09 01 13*"})


def collect(session: DbSession, period: Period, occasion: Occasion) -> WasteLogData:
    """Read all that moved in a period, and every container that was in the lab in it with all that it holds."""
    start, end = period.instants(zone=occasion.zone)
    histories = waste.histories(session, start=start, end=end)
    balances = ledger.balances(session, start=start, end=end)
    levels = _levels_at(session, [one.container.vessel_id for one in histories], end=end)
    return WasteLogData(
        issue=occasion.issue(f"/documents/waste-log?from={period.first}&to={period.last}", scan_code="Live log"),
        period=str(period),
        balance=_balance(balances[Unit.UL]),
        streams=_streams(histories, levels=levels, start=start),
        containers=tuple(
            _container(one, levels.get(one.container.vessel_id, 0), end=end, occasion=occasion) for one in histories
        ),
        discharges=tuple(_discharge(one, occasion) for one in waste.discharges(session, start=start, end=end)),
        corrections=tuple(_correction(one, occasion) for one in waste.level_corrections(session, start=start, end=end)),
        found_in_store=tuple(
            StoreRow(
                occasion.moment_in_row(found.happened_at),
                f"{found.product} {found.code}",
                f"{'−' if found.difference < 0 else '+'}{show(abs(found.difference), found.unit)}",
                ". ".join(filter(None, (str(found.reason).capitalize(), found.note))),
                found.by,
            )
            for found in store.found_otherwise(session, start=start, end=end)
        ),
        left_the_store=tuple(
            StoreRow(
                occasion.moment_in_row(left.left_at),
                f"{left.bottle.product.name} {left.bottle.code}",
                show(left.amount, left.bottle.vessel.unit),
                ". ".join(filter(None, (str(left.way).capitalize(), left.note))),
                left.recorded_by.name,
            )
            for left in store.left_otherwise(session, start=start, end=end)
        ),
        powders=_powders(balances[Unit.MG]),
    )


def _levels_at(session: DbSession, vessel_ids: Collection[int], *, end: datetime) -> dict[int, int]:
    """What stood in each vessel at an instant, by the sum of its postings until then."""
    rows = session.execute(
        select(Posting.vessel_id, func.sum(Posting.amount))
        .join(Movement)
        .where(Posting.vessel_id.in_(vessel_ids), Movement.happened_at < end)
        .group_by(Posting.vessel_id)
    )
    return {vessel_id: int(amount) for vessel_id, amount in rows if vessel_id is not None}


def _balance(liquids: ledger.Balance) -> Balance:
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
        if amount < 0:
            came_in.append(BalanceLine(source, -amount, estimate=account in _ESTIMATES))
        elif amount > 0:
            went.append(BalanceLine(destination, amount, estimate=account in _ESTIMATES))
    return Balance(tuple(came_in), tuple(went), liquids.unexplained)


def _streams(
    histories: Iterable[ContainerHistory], *, levels: Mapping[int, int], start: datetime
) -> tuple[StreamTotal, ...]:
    totals: dict[int, StreamTotal] = {}
    for one in histories:
        stream, collected = one.container.stream, one.collected
        total = totals.get(stream.id, StreamTotal(stream.name, stream.code, 0, 0, 0))
        totals[stream.id] = replace(
            total,
            poured_ul=total.poured_ul + sum(pour.volume_ul for pour in one.pours if pour.poured_at >= start),
            collected_ul=total.collected_ul + (collected.book_ul if collected else 0),
            here_ul=total.here_ul + levels.get(one.container.vessel_id, 0),
        )
    return tuple(totals.values())


def _discharge(made: waste_models.Discharge, occasion: Occasion) -> Discharge:
    return Discharge(
        discharged_at=occasion.moment_in_row(made.discharged_at),
        what=made.what,
        waste_code=made.waste_code,
        volume_ul=made.volume_ul,
        by=made.recorded_by.name,
        wrong_because=made.wrong_because,
        measured="; ".join(f"{reading.limit.in_words}: {reading.told}" for reading in made.readings),
    )


def _correction(made: LevelCorrection, occasion: Occasion) -> Correction:
    return Correction(
        corrected_at=occasion.moment_in_row(made.corrected_at),
        container=made.label,
        stream=made.stream,
        difference_ul=made.difference_ul,
        by=made.by,
    )


def _powders(powders: ledger.Balance) -> Powders | None:
    if not (any(powders.before.values()) or any(powders.after.values()) or powders.accounts):
        return None
    return Powders(
        before_mg=sum(powders.before.values()),
        bought_mg=-powders.accounts.get(Account.SUPPLIER, 0),
        dissolved_mg=powders.accounts.get(Account.POWDER_DISSOLVED, 0),
        unexplained_mg=powders.unexplained,
        otherwise_mg=sum(amount for account, amount in powders.accounts.items() if account not in _OWN_FIGURE),
        left_mg=sum(powders.after.values()),
    )


def _container(history: ContainerHistory, level_ul: int, *, end: datetime, occasion: Occasion) -> Container:
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
        waste_code=waste_code(_code_at(container, end=end)).in_words(occasion.lab.nation),
        opened_at=occasion.day(container.opened_at),
        closed_at=occasion.day(collected.collection.collected_at) if collected else "",
        level_ul=min(max(level_ul, 0), capacity),  # entries dated back may cross: more out than had come in by then
        capacity_ul=capacity,
        pours=tuple(_pour(one, occasion) for one in history.pours),
        collections=(_collection(collected, occasion),) if collected else (),
        quarantined_because=quarantine.reason if quarantine and not collected else "",
        advice=quarantine.advice if quarantine and not collected else "",
    )


def _code_at(container: waste_models.WasteContainer, *, end: datetime) -> str:
    """The code of what was in it when the period ended."""
    restated = container.restated
    is_new = restated is not None and restated.released_at is not None and restated.released_at < end
    return container.code if is_new else container.stream.code


def _pour(made: waste_models.Pour, occasion: Occasion) -> Pour:
    return Pour(
        poured_at=occasion.moment_in_row(made.poured_at),
        bath=made.what,
        volume_ul=made.volume_ul,
        silver=SilverRange(made.silver_low_mg, made.silver_high_mg) if made.silver_high_mg else None,
        by=made.recorded_by.name,
        wrong_because=made.wrong_because,
        holds_silver=made.waste_code in _HOLD_SILVER,
    )


def _collection(line: waste_models.CollectionLine, occasion: Occasion) -> Collected:
    return Collected(
        collected_on=occasion.day(line.collection.collected_at),
        note_code=line.collection.note_code,
        carrier=line.collection.carrier,
        properties=line.properties or "not kept",
        book_ul=line.book_ul,
        carrier_ul=line.carrier_ul,
        weight_mg=line.weight_mg,
    )
