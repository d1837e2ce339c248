"""Plays the demonstration lab's life, day by day: the technician's round, people's work, and what went wrong."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from labsys.baths import queries as bath_queries
from labsys.baths import rules as bath_rules
from labsys.baths import service as baths
from labsys.baths import uses
from labsys.baths.models import Bath, CheckKind, Work
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.life import Life, State
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Material
from labsys.database import DbSession
from labsys.demo.fixtures import DemoBath, DemoLine, Fixtures, Habit, water_parts_milli
from labsys.people import service as people
from labsys.people.models import Person
from labsys.people.passwords import Cost
from labsys.quantities import MG_PER_KG, UL_PER_L, UL_PER_ML
from labsys.stock import queries as stock_queries
from labsys.stock import rules as stock_rules
from labsys.stock import service as stock
from labsys.stock.models import Bottle
from labsys.timetable.local_time import to_instant, to_local
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.models import WasteContainer
from labsys.waste.rules import Poured

WEEKS = 6
SEED = 1897
ROUND = time(9, 40)
FULL_SHARE = 0.85
REPLENISHED_UL = 150 * UL_PER_ML
_MONDAY, _THURSDAY = 0, 3


@dataclass
class Play:
    """The state of the play: who is who, and a generator seeded once so that every run tells the same story."""

    session: DbSession
    fixtures: Fixtures
    now: datetime
    password: str
    cost: Cost
    random: Random = field(default_factory=lambda: Random(SEED))  # noqa: S311 - a story, not a secret
    ids: dict[str, int] = field(default_factory=dict)
    at: datetime = field(init=False)

    def __post_init__(self) -> None:
        self.zone = ZoneInfo(self.fixtures.lab["timezone"])
        self.today = to_local(self.now, zone=self.zone).date()
        self.at = self._instant(self.today - timedelta(weeks=WEEKS, days=1), time(9, 0))

    def run(self) -> None:
        """Set up the lab and play every day up to now."""
        self._set_up()
        for days_ago in range(WEEKS * 7, -1, -1):
            day = self.today - timedelta(days=days_ago)
            for happens_at, act in sorted(self._day(day, days_ago), key=lambda item: item[0]):
                if happens_at > self.now:
                    break
                self.at = happens_at
                act()

    def _instant(self, day: date, clock: time) -> datetime:
        return to_instant(datetime.combine(day, clock), zone=self.zone)

    def _later(self) -> datetime:
        self.at += timedelta(minutes=2)
        return self.at

    def _person(self, key: str) -> Person:
        return self.session.get_one(Person, self.ids[key])

    @property
    def _technician(self) -> Person:
        return self._person("joss" if self.at.toordinal() % 2 else "hana")

    def _set_up(self) -> None:
        lab = self.fixtures.lab
        manager, *others = self.fixtures.people
        invited = people.set_up_lab(
            self.session,
            name=lab["name"],
            address=lab["address"],
            code_prefix=lab["code_prefix"],
            timezone=lab["timezone"],
            nation=lab["nation"],
            emergency=lab["emergency"],
            manager_name=manager.name,
            manager_email=manager.email,
            is_demo=True,
            now=self._later(),
        )
        self._enter(manager.key, invited)
        for person in others:
            invited = people.invite_person(
                self.session,
                actor=self._person(manager.key),
                name=person.name,
                email=person.email,
                roles=person.roles,
                now=self._later(),
            )
            self._enter(person.key, invited)
        self._furnish()

    def _enter(self, key: str, invited: people.Invitation) -> None:
        person = people.choose_password(
            self.session, token=invited.token, password=self.password, cost=self.cost, now=self._later()
        )
        self.ids[key] = person.id

    def _furnish(self) -> None:
        technician = self._person("joss")
        for row in self.fixtures.lab["cylinder"]:
            stock.add_cylinder(
                self.session,
                actor=technician,
                nominal_ml=row["nominal_ml"],
                division_ul=round(row["division_ml"] * UL_PER_ML),
                accuracy_class=CylinderClass(row["class"]),
                kept_for=SolutionKind(row["kept_for"]) if "kept_for" in row else None,
                now=self._later(),
            )
        for row in self.fixtures.lab["stream"]:
            stream = waste.add_stream(
                self.session, actor=technician, name=row["name"], code=row["code"], now=self._later()
            )
            self.ids[f"stream {stream.code}"] = stream.id
        for product in self.fixtures.products:
            added = stock.add_product(self.session, actor=technician, entry=product.entry, now=self._later())
            self.ids[f"product {product.key}"] = added.id
            if product.is_confirmed:
                stock.confirm_product(self.session, actor=self._person("odile"), product_id=added.id, now=self._later())
            self._receive(product.key)
        for process in self.fixtures.processes:
            steps = [self._step(row) for row in process.steps]
            made = stock.add_process(
                self.session,
                actor=technician,
                name=process.name,
                material=process.material,
                note=process.note,
                steps=steps,
                now=self._later(),
            )
            self.ids[f"process {process.name}"] = made.id
        for line in self.fixtures.lines:
            laid = baths.add_line(
                self.session,
                actor=technician,
                name=line.name,
                work=line.work,
                process_id=self.ids[f"process {line.process}"],
                now=self._later(),
            )
            self.ids[f"line {line.key}"] = laid.id

    def _step(self, row: dict[str, Any]) -> stock.StepEntry:
        return stock.StepEntry(
            name=row["name"],
            product_id=self.ids[f"product {row['product']}"] if "product" in row else None,
            water_parts_milli=water_parts_milli(row["parts"]) if "parts" in row else None,
            seconds=round(row["minutes"] * 60) if "minutes" in row else None,
            temperature_milli_c=round(row["celsius"] * 1000) if "celsius" in row else None,
            changes=row.get("changes"),
            in_the_dark=row.get("in_the_dark", False),
            note=row["note"],
            source=row["source"],
        )

    def _receive(self, key: str) -> Bottle:
        product = next(one for one in self.fixtures.products if one.key == key)
        day = to_local(self.at, zone=self.zone).date()
        return stock.receive_bottle(
            self.session,
            actor=self._technician,
            product_id=self.ids[f"product {key}"],
            amount=product.received_ul,
            lot=f"{self.random.randrange(10_000, 100_000)}",
            received_at=self._later(),
            expires_on=day + timedelta(days=730),
            now=self.at,
        )

    # A day

    def _day(self, day: date, days_ago: int) -> Iterator[tuple[datetime, Callable[[], None]]]:
        comes = [habit for habit in self.fixtures.habits if self._comes(habit, day)]
        busy = {habit.line for habit in comes}
        yield self._instant(day, ROUND), lambda: self._round(busy, day)
        for habit in comes:
            yield self._instant(day, self._between(habit)), lambda habit=habit: self._work(habit)  # type: ignore[misc]
        for event in self.fixtures.events:
            if event["days_ago"] == days_ago:
                happens_at = self._instant(day, time.fromisoformat(event["time"]))
                yield happens_at, lambda event=event: self._event(event)  # type: ignore[misc]

    def _comes(self, habit: Habit, day: date) -> bool:
        chance = self.random.random()
        return day.weekday() in habit.weekdays and chance < habit.chance

    def _between(self, habit: Habit) -> time:
        first = habit.earliest.hour * 60 + habit.earliest.minute
        last = habit.latest.hour * 60 + habit.latest.minute
        return time(*divmod(self.random.randint(first, last), 60))

    def _work(self, habit: Habit) -> None:
        count = self.random.randint(habit.low, habit.high)
        uses.log_use(
            self.session,
            actor=self._person(habit.person),
            line_id=self.ids[f"line {habit.line}"],
            size=habit.size,
            material=habit.material,
            count=count,
            class_name=habit.class_name,
            used_at=self.at,
            now=self._later(),
        )

    # The technician's round

    def _round(self, busy: set[str], day: date) -> None:
        here = bath_queries.baths_here(self.session)
        for line in self.fixtures.lines:
            for spec in line.baths:
                mine = [b for b in here if b.line_id == self.ids[f"line {line.key}"] and b.place is spec.place]
                self._look_after(line, spec, mine, is_busy=line.key in busy, day=day)

    def _look_after(self, line: DemoLine, spec: DemoBath, mine: list[Bath], *, is_busy: bool, day: date) -> None:
        current = next((bath for bath in mine if bath.is_in_service), None)
        spare = next((bath for bath in mine if bath.is_spare), None)
        if current is None:
            if is_busy:
                self._mix(line, spec, in_service=True)
            return
        life = bath_rules.life(current, now=self.at)
        life = self._test(current, life, spec, day)
        if life.state is State.EXHAUSTED:
            if spare is not None:
                baths.put_in_service(self.session, actor=self._technician, bath_id=spare.id, now=self._later())
            elif is_busy:
                self._mix(line, spec, in_service=True)
            self._dump(current)
        elif life.state is State.NEAR_ITS_END and spare is None and is_busy:
            self._mix(line, spec, in_service=False)
        elif spec.place == "developer" and line.work is Work.FILM and day.weekday() == _THURSDAY:
            self._replenish(current, spec)

    def _test(self, bath: Bath, life: Life, spec: DemoBath, day: date) -> Life:
        """Film fixer by clearing time twice a week, stop by pH on Mondays; the rest by count and age."""
        worn = 1 - float(life.share_left) if life.share_left is not None else 0.0
        if spec.place == "fixer" and bath.line.work is Work.FILM and day.weekday() in (_MONDAY, _THURSDAY):
            self._check(bath, CheckKind.CLEARING_TIME, round((40 + 36 * worn + self.random.uniform(-2, 2)) * 1000))
        elif spec.place == "stop bath" and day.weekday() == _MONDAY:
            self._check(bath, CheckKind.PH, round((3.2 + 1.6 * worn + self.random.uniform(-0.1, 0.1)) * 100) * 10)
        else:
            return life
        return bath_rules.life(bath_queries.bath_or_raise(self.session, bath.id), now=self.at)

    def _check(self, bath: Bath, kind: CheckKind, value_milli: int, *, is_fresh: bool = False) -> None:
        baths.check_bath(
            self.session,
            actor=self._technician,
            bath_id=bath.id,
            kind=kind,
            value_milli=value_milli,
            colour=None,
            is_fresh=is_fresh,
            checked_at=self._later(),
            now=self.at,
        )

    def _mix(self, line: DemoLine, spec: DemoBath, *, in_service: bool) -> None:
        taken, water_ul = self._measure_out(spec, spec.volume_ul)
        bath = baths.mix_bath(
            self.session,
            actor=self._technician,
            product_id=self.ids[f"product {spec.product}"],
            water_parts_milli=spec.water_parts_milli,
            line_id=self.ids[f"line {line.key}"],
            place=spec.place,
            name=spec.name,
            holding=spec.holding,
            capacity_ul=spec.capacity_ul,
            working_ul=spec.volume_ul,
            taken=taken,
            water_ul=water_ul,
            in_service=in_service,
            mixed_at=self._later(),
            now=self.at,
        )
        if spec.place == "fixer" and line.work is Work.FILM:
            self._check(bath, CheckKind.CLEARING_TIME, 40_000, is_fresh=True)

    def _replenish(self, bath: Bath, spec: DemoBath) -> None:
        if bath.vessel.capacity - bath.vessel.level < 2 * REPLENISHED_UL:
            return
        taken, water_ul = self._measure_out(spec, REPLENISHED_UL)
        baths.replenish(
            self.session,
            actor=self._technician,
            bath_id=bath.id,
            working_ul=REPLENISHED_UL,
            taken=taken,
            water_ul=water_ul,
            mixed_at=self._later(),
            now=self.at,
        )

    def _measure_out(self, spec: DemoBath, volume_ul: int) -> tuple[list[bath_rules.Taken], int]:
        """What a hand measures out: near what was wanted, to a whole millilitre, from as many bottles as it takes."""
        wanted = stock_rules.amounts(
            dilution=stock_rules.dilution_of_milli(spec.water_parts_milli), working_ul=volume_ul, powder_mg_per_l=None
        )
        to_take = round(wanted.from_bottle / UL_PER_ML + self.random.uniform(-1.5, 1.5)) * UL_PER_ML
        water_ul = round(wanted.water_ul / UL_PER_ML + self.random.uniform(-10, 10)) * UL_PER_ML
        product_id = self.ids[f"product {spec.product}"]
        bottles = stock_queries.bottles(self.session, product_id=product_id)
        while sum(bottle.vessel.level for bottle in bottles) < to_take:
            bottles.append(self._receive(spec.product))
        taken = []
        for bottle in bottles:
            amount = min(to_take, bottle.vessel.level)
            if amount:
                taken.append(bath_rules.Taken(bottle.id, amount))
            to_take -= amount
        return taken, water_ul

    def _dump(self, bath: Bath) -> None:
        poured_ul = round(bath.vessel.level * self.random.uniform(0.975, 0.995) / (10 * UL_PER_ML)) * 10 * UL_PER_ML
        container = self._container(bath.product.waste_code, room_ul=poured_ul)
        baths.dump_bath(
            self.session,
            actor=self._technician,
            bath_id=bath.id,
            container_id=container.id,
            volume_ul=poured_ul,
            dumped_at=self._later(),
            now=self.at,
        )

    def _container(self, code: str, *, room_ul: int) -> WasteContainer:
        """The container in use for a code, or a new one where it is full or in quarantine."""
        for container in waste_queries.containers_here(self.session):
            fits = container.vessel.level + room_ul <= container.vessel.capacity * FULL_SHARE
            if container.stream.code == code and fits and container.quarantine is None:
                return container
        row = next(one for one in self.fixtures.lab["stream"] if one["code"] == code)
        return waste.open_container(
            self.session,
            actor=self._technician,
            stream_id=self.ids[f"stream {code}"],
            capacity_ul=row["capacity_l"] * UL_PER_L,
            place=row["place"],
            opened_at=self._later(),
            now=self.at,
        )

    # What went wrong or was done out of turn

    def _event(self, event: dict[str, Any]) -> None:
        match event["act"]:
            case "correct last use":
                self._correct_last_use(event)
            case "wrong pour":
                self._wrong_pour(event)
            case "release":
                self._release(event)
            case "hand over":
                self._hand_over(event)
            case other:
                raise ValueError(f"demo_fixtures/events.toml: no such act {other!r}")

    def _correct_last_use(self, event: dict[str, Any]) -> None:
        person = self._person(event["who"])
        for last in bath_queries.uses_of_person(self.session, person_id=person.id, limit=1):
            uses.correct_use(
                self.session,
                actor=person,
                use_id=last.id,
                size=next(habit.size for habit in self.fixtures.habits if habit.size.key == last.size),
                material=Material(last.material),
                count=event["count"],
                now=self.at,
            )

    def _wrong_pour(self, event: dict[str, Any]) -> None:
        volume_ul = event["ml"] * UL_PER_ML
        waste.pour(
            self.session,
            actor=self._person(event["who"]),
            container_id=self._container(event["into"], room_ul=volume_ul).id,
            poured=Poured(what=event["what"], waste_code=event["waste_code"], volume_ul=volume_ul),
            poured_at=self.at,
            now=self._later(),
        )

    def _release(self, event: dict[str, Any]) -> None:
        for container in waste_queries.containers_here(self.session):
            if container.stream.code == event["stream"] and container.quarantine is not None:
                waste.release_from_quarantine(
                    self.session,
                    actor=self._person(event["who"]),
                    container_id=container.id,
                    note=event["note"],
                    now=self.at,
                )

    def _hand_over(self, event: dict[str, Any]) -> None:
        given = []
        for container in waste_queries.containers_here(self.session):
            if container.stream.code == event["stream"] and container.vessel.level:
                litres = container.vessel.level / UL_PER_L - event["litres_less"]
                given.append(
                    waste.HandedOver(
                        container.id,
                        carrier_ul=round(litres * 10) * UL_PER_L // 10,
                        weight_mg=round(litres * event["kg_per_l"] * 10) * MG_PER_KG // 10,
                    )
                )
        waste.collect(
            self.session,
            actor=self._person(event["who"]),
            handed_over=given,
            note_code=event["note_code"],
            carrier=event["carrier"],
            collected_at=self.at,
            now=self._later(),
        )
