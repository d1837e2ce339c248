"""What happens in a busy lab, day by day, as rows: people join, book, come, log what they did; baths are mixed from
bottles, used, tested and dumped; containers are filled and collected.

Drawn from a seed: equal seeds, equal days. Whatever a service would have worked out (areas, silver, losses) is worked
out here by the same functions.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from math import ceil
from random import Random
from typing import Any

from benchmarks.rows import Row, Rows
from labsys.baths.rules import losses
from labsys.chemistry.silver import silver_into_fixer_g
from labsys.chemistry.sizes import Load, Material, load_of, size_of
from labsys.demo.fixtures import DemoBath
from labsys.quantities import MG_PER_G, MG_PER_KG, UL_PER_L, UL_PER_ML
from labsys.records.models import CodeKind

_TERM_DAYS = 3650
_BOOKED_AHEAD_DAYS = 3
_SLOTS = (time(12, 0), time(13, 30), time(15, 0), time(16, 30))  # within the hours of every weekday
_SLOT, _MARGIN = timedelta(minutes=75), timedelta(minutes=15)
_SHARE_BOOKED, _SHARE_CANCELLED, _SHARE_ARRIVED = 0.92, 0.06, 0.2
_BATH_DAYS = 4
_BATH_UL, _BOTTLE_UL, _CONTAINER_UL = 25 * UL_PER_L, 20 * UL_PER_L, 200 * UL_PER_L
_FULL_SHARE = 0.85
_WORK = {
    "film": tuple((size, Material.FILM) for size in ("120", "135-36", "4x5 in")),
    "paper": (("8x10 in", Material.RC), ("13x18 cm", Material.RC), ("24x30 cm", Material.FIBRE)),
}
_LOADS = {
    (size, material, count): load_of(size=size_of(key=size), material=material, count=count)
    for works in _WORK.values()
    for size, material in works
    for count in range(1, 6)
}


@dataclass(frozen=True)
class Pace:
    """How much happens a day. The first figures come to 3,000 people, 400,000 bookings and 1.5 million uses in ten
    years; `times` says how many times that.
    """

    times: float = 1.0

    @property
    def bookings(self) -> float:
        return 110 * self.times

    @property
    def uses(self) -> int:
        return ceil(411 * self.times)

    @property
    def units(self) -> int:
        return ceil(self.bookings / _SHARE_BOOKED / len(_SLOTS))

    @property
    def lines(self) -> int:
        """Lines of each kind."""
        return 2 if self.times >= 1 else 1

    @property
    def active(self) -> int:
        """People who come at one time; the rest have left."""
        return ceil(600 * self.times)

    def joined(self, day: int) -> int:
        """How many have joined by the end of a day, the days counted from 0: half of those who come, at once."""
        return self.active // 2 + int((3000 * self.times - self.active // 2) * (day + 1) / _TERM_DAYS)


@dataclass(frozen=True)
class House:
    """What of the lab the days need: who keeps it, what its lines are mixed from, and what is taught."""

    first_day: date
    zone: Any
    technician: tuple[int, str]
    teacher: tuple[int, str]
    adviser: tuple[int, str]
    room_id: int
    recipes: dict[str, tuple[DemoBath, ...]]  # by kind of work
    product_ids: dict[str, int]
    waste_codes: dict[str, str]  # by key of the product
    stream_ids: dict[str, int]  # by waste code
    process_ids: dict[str, int]  # by kind of work
    inductions: tuple[tuple[int, int], ...]  # version, and days it is valid


@dataclass
class _Member:
    id: int
    name: str
    leaves: date | None

    @property
    def by(self) -> tuple[int, str]:
        return self.id, self.name


@dataclass
class _Line:
    id: int
    work: str
    recipe: tuple[DemoBath, ...]
    baths: list[Row | None]


@dataclass
class Days:
    """The lab's days, each made once and in order."""

    house: House
    pace: Pace
    rows: Rows
    random: Random
    now: datetime
    _members: list[_Member] = field(default_factory=list)
    _lines: list[_Line] = field(default_factory=list)
    _units: list[tuple[int, int]] = field(default_factory=list)  # unit, station
    _bottles: dict[str, int] = field(default_factory=dict)  # vessel of the one in use, by product
    _bottle_ids: dict[int, int] = field(default_factory=dict)
    _containers: dict[str, tuple[int, int]] = field(default_factory=dict)  # row and vessel in use, by waste code
    _full: list[tuple[int, int, str]] = field(default_factory=list)  # row, vessel, label
    _labels: dict[int, str] = field(default_factory=dict)
    _lapses: dict[date, list[tuple[_Member, tuple[int, int]]]] = field(default_factory=dict)
    _coming: dict[date, list[tuple[Row, _Member, datetime]]] = field(default_factory=dict)

    def lay_out(self) -> None:
        """Stations and lines of its own, so that nothing else in the lab is in the way."""
        at = self._clock(self.house.first_day, time(8, 0))
        left = self.pace.units
        for position in range(1, ceil(left / 20) + 1):
            station = self.rows.add(
                "stations",
                room_id=self.house.room_id,
                name=f"Gallery {position}",
                position=20 + position,
                margin_minutes=15,
                note="",
                closed_at=None,
            )
            units = min(left, 20)
            for number in range(1, units + 1):
                self._units.append((self.rows.add("station_units", station_id=station, number=number), station))
            left -= units
            facts = {"name": f"Gallery {position}", "units": units}
            self.rows.tell("station.added", about=("stations", station), at=at, by=self.house.technician, facts=facts)
        for work, recipe in self.house.recipes.items():
            for number in range(1, self.pace.lines + 1):
                name = f"Gallery {work} {number}"
                row = self.rows.keep(
                    "bath_lines", name=name, code="", work=work, process_id=self.house.process_ids[work]
                )
                row["code"] = self.rows.code(CodeKind.LINE, row["id"])
                self._lines.append(_Line(row["id"], work, recipe, [None] * len(recipe)))
                facts = {"name": name, "code": row["code"], "work": work}
                about = ("bath_lines", row["id"])
                self.rows.tell("line.added", about=about, at=at, by=self.house.technician, facts=facts)
                self.rows.let_go("bath_lines", row)
        teacher = _Member(*self.house.teacher, leaves=None)
        for version_id, valid_days in self.house.inductions:
            again = self.house.first_day + timedelta(days=valid_days - 2)
            self._lapses.setdefault(again, []).append((teacher, (version_id, valid_days)))

    def live(self, day: date) -> None:
        """One day, up to now."""
        self._join(day)
        self._teach_again(day)
        self._collect(day)
        self._look_after(day)
        self._book(day)
        self._come(day)
        self._log(day)

    def _clock(self, day: date, clock: time) -> datetime:
        return datetime.combine(day, clock, tzinfo=self.house.zone)

    def _number(self, day: date) -> int:
        return (day - self.house.first_day).days

    # People

    def _join(self, day: date) -> None:
        number = self._number(day)
        at = self._clock(day, time(11, 0))
        while len(self._members) < self.pace.joined(number):
            order = len(self._members)
            leaves = self._leaving(order)
            name = f"Person {order + 1} Ødegård"
            person_id = self.rows.add(
                "people",
                name=name,
                email=f"person{order + 1}@busy.example",
                password_hash="$argon2id$not$a$hash",
                session_version=1,
                created_at=self.rows.at(at),
                left_at=None if leaves is None else self.rows.at(self._clock(leaves, time(11, 0))),
            )
            member = _Member(person_id, name, leaves)
            self._members.append(member)
            self.rows.add("person_roles", person_id=person_id, role="member")
            facts = {"roles": ["member"]}
            self.rows.tell("person.invited", about=("people", person_id), at=at, by=self.house.teacher, facts=facts)
            self._teach(member, self.house.inductions, day)

    def _leaving(self, order: int) -> date | None:
        """When somebody leaves: as soon as so many have joined after them that the lab has all it holds."""
        last = order + self.pace.active
        day = self._number(self.now.date())
        if self.pace.joined(day) <= last:
            return None
        low, high = 0, day
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.pace.joined(middle) > last else (middle + 1, high)
        return self.house.first_day + timedelta(days=low)

    def _teach_again(self, day: date) -> None:
        for member, induction in self._lapses.pop(day, ()):
            if member.leaves is None or member.leaves > day:
                self._teach(member, (induction,), day)

    def _teach(self, member: _Member, inductions: tuple[tuple[int, int], ...], day: date) -> None:
        at = self._clock(day, time(11, 30))
        if at > self.now:
            return
        is_teacher = member.by == self.house.teacher
        signer = self.house.adviser if is_teacher else self.house.teacher
        signed = []
        for version_id, valid_days in inductions:
            signed.append(
                self.rows.add(
                    "sign_offs",
                    version_id=version_id,
                    person_id=member.id,
                    signed_by_id=signer[0],
                    is_appointment=is_teacher,
                    taught_at=self.rows.at(at),
                    recorded_at=self.rows.at(at),
                    lapses_at=self.rows.at(at + timedelta(days=valid_days)),
                    confirmed_at=self.rows.at(at),
                    confirmed_by="own account",
                    sheet="",
                )
            )
            self._lapses.setdefault(day + timedelta(days=valid_days - 2), []).append((member, (version_id, valid_days)))
        facts = {"people": [member.id], "sign_offs": signed, "taught_at": at.isoformat()}
        about = ("sign_offs", signed[0])
        self.rows.tell("induction.signed_off", about=about, at=at, by=signer, facts=facts)
        for number in signed:
            facts = {"by": "own account"}
            self.rows.tell("induction.confirmed", about=("sign_offs", number), at=at, by=member.by, facts=facts)

    def _somebody(self) -> _Member:
        first = max(0, len(self._members) - self.pace.active)
        return self._members[self.random.randrange(first, len(self._members))]

    # Bookings

    def _book(self, day: date) -> None:
        """What is booked on a day, for some days on. The first days find nothing booked."""
        made = self._clock(day, time(11, 45))
        if made > self.now:
            return
        on = day + timedelta(days=_BOOKED_AHEAD_DAYS)
        share = self.pace.bookings / (len(self._units) * len(_SLOTS))
        for unit_id, station_id in self._units:
            for slot in _SLOTS:
                if self.random.random() < share:
                    self._book_one(on, slot, unit_id, station_id, made)

    def _book_one(self, on: date, slot: time, unit_id: int, station_id: int, made: datetime) -> None:
        at = self.rows.at
        start = self._clock(on, slot)
        member = self._somebody()
        work = self.random.choice(("film", "paper"))
        size, material = self.random.choice(_WORK[work])
        cancelled = made + timedelta(hours=2)
        is_cancelled = self.random.random() < _SHARE_CANCELLED and cancelled <= self.now
        booking = self.rows.keep(
            "bookings",
            person_id=member.id,
            station_id=station_id,
            units=1,
            class_name="",
            starts_at=at(start),
            ends_at=at(start + _SLOT),
            process_id=self.house.process_ids[work],
            planned_size=size,
            planned_material=material.value,
            planned_count=self.random.randint(1, 5),
            note="",
            made_at=at(made),
            made_by_id=member.id,
            version=1,
            cancelled_at=at(cancelled) if is_cancelled else None,
            cancelled_by_id=member.id if is_cancelled else None,
            arrived_at=None,
            left_at=None,
        )
        about = ("bookings", booking["id"])
        facts = {"person": member.id, "station": station_id, "units": [unit_id], "from": start.isoformat()}
        self.rows.tell("booking.made", about=about, at=made, by=member.by, facts=facts, submitted="book")
        if is_cancelled:
            self.rows.tell("booking.cancelled", about=about, at=cancelled, by=member.by, facts={})
            self._mail(member, f"booking {booking['id']} cancelled", cancelled)
            self.rows.let_go("bookings", booking)
            return
        until = start + _SLOT + _MARGIN
        self.rows.add("holds", unit_id=unit_id, booking_id=booking["id"], starts_at=at(start), ends_at=at(until))
        self._coming.setdefault(on, []).append((booking, member, start))

    def _mail(self, member: _Member, reason: str, instant: datetime) -> None:
        at = self.rows.at(instant)
        self.rows.add(
            "outgoing_mail",
            person_id=member.id,
            reason_key=reason,
            subject="Cancelled: Gallery",
            body="You cancelled this booking. The time is free for others now.",
            created_at=at,
            send_at=at,
            sending_since=at,
            sent_at=at,
            tries=1,
            last_error="",
            given_up_at=None,
        )

    def _come(self, day: date) -> None:
        for booking, member, start in self._coming.pop(day, ()):
            about = ("bookings", booking["id"])
            if self.random.random() < _SHARE_ARRIVED:
                for act, column, at in (("arrived", "arrived_at", start), ("left", "left_at", start + _SLOT)):
                    if at <= self.now:
                        booking[column] = self.rows.at(at)
                        self.rows.tell(f"booking.{act}", about=about, at=at, by=member.by, facts={})
            self.rows.let_go("bookings", booking)

    # Baths

    def _look_after(self, day: date) -> None:
        """Each morning the oldest baths are renewed, and film fixers tested."""
        at = self._clock(day, time(9, 0))
        if at > self.now:
            return
        for order, line in enumerate(self._lines):
            for place, recipe in enumerate(line.recipe):
                at += timedelta(minutes=2)
                old = line.baths[place]
                if old is None or (self._number(day) + order + place) % _BATH_DAYS == 0:
                    line.baths[place] = self._mix(line, recipe, at)
                    if old is not None:
                        self._dump(old, recipe, at)
                elif recipe.place == "fixer" and line.work == "film":
                    self._test(old, at, seconds=50)

    def _mix(self, line: _Line, recipe: DemoBath, instant: datetime) -> Row:
        rows, by, at = self.rows, self.house.technician, self.rows.at(instant)
        part = round(_BATH_UL * 1000 / (1000 + recipe.water_parts_milli) / UL_PER_ML) * UL_PER_ML
        taken = self._take(recipe.product, part, instant)
        vessel = rows.add("vessels", kind="bath", unit="µL", capacity=_BATH_UL, level=0)
        bath = rows.keep(
            "baths",
            code="",
            name=recipe.name,
            vessel_id=vessel,
            product_id=self.house.product_ids[recipe.product],
            water_parts_milli=recipe.water_parts_milli,
            holding=recipe.holding.value,
            line_id=line.id,
            place=recipe.place.value,
            mixed_at=at,
            recorded_at=at,
            mixed_by_id=by[0],
            in_service_at=at,
            out_of_service_at=None,
            dumped_at=None,
            made_up_ul=_BATH_UL,
            film_mm2=0,
            rc_mm2=0,
            fibre_mm2=0,
            pieces=0,
        )
        bath["code"] = rows.code(CodeKind.BATH, bath["id"])
        movement = rows.move(
            "mixing",
            at=instant,
            by=by[0],
            vessels=(*((bottle, -amount) for bottle, amount in taken), (vessel, _BATH_UL)),
            accounts=(("tap", part - _BATH_UL),),
        )
        batch = rows.add(
            "batches",
            bath_id=bath["id"],
            movement_id=movement,
            volume_ul=_BATH_UL,
            strength_ppm=1_000_000,
            mixed_at=at,
            recorded_at=at,
            mixed_by_id=by[0],
        )
        parts = [(self._bottle_ids[bottle], amount) for bottle, amount in taken]
        for bottle_id, amount in parts:
            rows.add("batch_parts", batch_id=batch, bottle_id=bottle_id, amount=amount)
        facts = {"code": bath["code"], "volume_ul": _BATH_UL, "parts": parts}
        rows.tell("bath.mixed", about=("baths", bath["id"]), at=instant, by=by, facts=facts, submitted="mix_bath")
        if recipe.place == "fixer" and line.work == "film":
            self._test(bath, instant, seconds=40, is_fresh=True)
        return bath

    def _take(self, product: str, part: int, instant: datetime) -> list[tuple[int, int]]:
        """Take an amount from the bottle in use and, where it is not enough, from a new one: vessels with amounts."""
        vessel = self._bottles.get(product)
        here = min(part, self.rows.level(vessel)) if vessel is not None else 0
        taken = [(vessel, here)] if vessel is not None and here else []
        if here < part:
            taken.append((self._receive(product, instant), part - here))
        return taken

    def _receive(self, product: str, instant: datetime) -> int:
        """The vessel of a new bottle."""
        rows, by, at = self.rows, self.house.technician, self.rows.at(instant)
        vessel = rows.add("vessels", kind="bottle", unit="µL", capacity=_BOTTLE_UL, level=0)
        bottle = rows.keep(
            "bottles",
            vessel_id=vessel,
            product_id=self.house.product_ids[product],
            code="",
            lot=f"{self.random.randrange(10_000, 100_000)}",
            received_at=at,
            recorded_at=at,
            opened_at=at,
            expires_on=(instant + timedelta(days=730)).date().isoformat(),
        )
        bottle["code"] = rows.code(CodeKind.BOTTLE, bottle["id"])
        rows.let_go("bottles", bottle)
        came = (("supplier", -_BOTTLE_UL),)
        rows.move("delivery", at=instant, by=by[0], vessels=((vessel, _BOTTLE_UL),), accounts=came)
        facts = {"code": bottle["code"], "amount": _BOTTLE_UL}
        rows.tell("bottle.received", about=("bottles", bottle["id"]), at=instant, by=by, facts=facts)
        self._bottles[product], self._bottle_ids[vessel] = vessel, bottle["id"]
        return vessel

    def _test(self, bath: Row, instant: datetime, *, seconds: int, is_fresh: bool = False) -> None:
        at = self.rows.at(instant)
        check = self.rows.add(
            "checks",
            bath_id=bath["id"],
            kind="clearing time",
            value_milli=seconds * 1000,
            colour=None,
            is_fresh=is_fresh,
            film_mm2=bath["film_mm2"],
            rc_mm2=bath["rc_mm2"],
            fibre_mm2=bath["fibre_mm2"],
            pieces=bath["pieces"],
            checked_at=at,
            recorded_at=at,
            checked_by_id=self.house.technician[0],
        )
        facts = {"bath": bath["code"], "kind": "clearing time", "finding": f"clears in {seconds} s"}
        self.rows.tell("bath.checked", about=("checks", check), at=instant, by=self.house.technician, facts=facts)

    # Uses

    def _log(self, day: date) -> None:
        opens = self._clock(day, time(12, 0))
        moments = sorted(self.random.randrange(6 * 3600) for _ in range(self.pace.uses))
        for seconds in moments:
            at = opens + timedelta(seconds=seconds)
            if at > self.now:
                return
            self._log_one(self.random.choice(self._lines), at)

    def _log_one(self, line: _Line, instant: datetime) -> None:
        rows, member, at = self.rows, self._somebody(), self.rows.at(instant)
        size, material = self.random.choice(_WORK[line.work])
        count = self.random.randint(1, 5)
        load = _LOADS[size, material, count]
        use = rows.add(
            "uses",
            line_id=line.id,
            person_id=member.id,
            class_name="",
            size=size,
            material=material.value,
            count=count,
            area_mm2=load.film_mm2 + load.rc_mm2 + load.fibre_mm2,
            used_at=at,
            recorded_at=at,
            recorded_by_id=member.id,
            flag="",
            corrects_id=None,
        )
        for bath in line.baths:
            if bath is not None:
                rows.add("use_baths", use_id=use, bath_id=bath["id"])
                bath["film_mm2"] += load.film_mm2
                bath["rc_mm2"] += load.rc_mm2
                bath["fibre_mm2"] += load.fibre_mm2
                bath["pieces"] += load.pieces
        facts = {"line": line.id, "size": size, "material": material.value, "count": count, "class": "", "flag": ""}
        rows.tell("use.logged", about=("uses", use), at=instant, by=member.by, facts=facts, submitted="log_uses")

    # Waste

    def _dump(self, bath: Row, recipe: DemoBath, instant: datetime) -> None:
        rows, by, at = self.rows, self.house.technician, self.rows.at(instant)
        load = Load(*(bath[name] for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces")))
        poured = round(_BATH_UL * self.random.uniform(0.97, 0.99) / UL_PER_ML) * UL_PER_ML
        lost = losses(level_ul=_BATH_UL, poured_ul=poured, load=load)
        silver = silver_into_fixer_g(load=load) if recipe.place == "fixer" and load.pieces else None
        code = self.house.waste_codes[recipe.product]
        container, vessel = self._container(code, poured, instant)
        movement = rows.move(
            "pour",
            at=instant,
            by=by[0],
            vessels=((bath["vessel_id"], -_BATH_UL), (vessel, poured)),
            accounts=(("carried out on film and paper", lost.carried_out_ul), ("unexplained", lost.unexplained_ul)),
        )
        rows.add(
            "pours",
            container_id=container,
            movement_id=movement,
            what=f"{bath['name']} {bath['code']}",
            waste_code=code,
            volume_ul=poured,
            silver_low_mg=int(silver.low * MG_PER_G) if silver else 0,
            silver_high_mg=round(silver.high * MG_PER_G) if silver else 0,
            wrong_because="",
            poured_at=at,
            recorded_at=at,
            recorded_by_id=by[0],
        )
        bath["out_of_service_at"] = bath["dumped_at"] = at
        rows.let_go("baths", bath)
        facts = {"into": {"container": container, "volume_ul": poured}, "carried_out_ul": lost.carried_out_ul}
        rows.tell("bath.dumped", about=("baths", bath["id"]), at=instant, by=by, facts=facts, submitted="dump_bath")

    def _container(self, code: str, poured: int, instant: datetime) -> tuple[int, int]:
        """The container in use for a waste code, a new one where it has no room."""
        rows, at = self.rows, self.rows.at(instant)
        if code in self._containers:
            container, vessel = self._containers[code]
            if rows.level(vessel) + poured <= _FULL_SHARE * _CONTAINER_UL:
                return container, vessel
            self._full.append((container, vessel, self._labels.pop(container)))
        vessel = rows.add("vessels", kind="container", unit="µL", capacity=_CONTAINER_UL, level=0)
        made = rows.keep(
            "waste_containers",
            vessel_id=vessel,
            stream_id=self.house.stream_ids[code],
            label="",
            place="yard",
            opened_at=at,
            recorded_at=at,
            collected_at=None,
        )
        made["label"] = self._labels[made["id"]] = rows.code(CodeKind.CONTAINER, made["id"])
        rows.let_go("waste_containers", made)
        about = ("waste_containers", made["id"])
        facts = {"label": made["label"], "capacity_ul": _CONTAINER_UL}
        rows.tell("container.opened", about=about, at=instant, by=self.house.technician, facts=facts)
        self._containers[code] = made["id"], vessel
        return made["id"], vessel

    def _collect(self, day: date) -> None:
        """Each Monday the carrier takes what is full."""
        instant = self._clock(day, time(8, 30))
        if day.weekday() or instant > self.now or not self._full:
            return
        rows, by, at = self.rows, self.house.technician, self.rows.at(instant)
        note_code = f"BUSY/{day:%y%m%d}"
        collection = rows.add(
            "collections",
            note_code=note_code,
            carrier="Made-up Carriers",
            collected_at=at,
            recorded_at=at,
            recorded_by_id=by[0],
        )
        told = []
        for container, vessel, label in self._full:
            book = rows.level(vessel)
            movement = rows.move(
                "collection", at=instant, by=by[0], vessels=((vessel, -book),), accounts=(("carrier", book),)
            )
            weight_mg = book // UL_PER_L * MG_PER_KG
            rows.add(
                "collection_lines",
                collection_id=collection,
                container_id=container,
                movement_id=movement,
                book_ul=book,
                carrier_ul=None,
                weight_mg=weight_mg,
            )
            rows.change("waste_containers", container, collected_at=at)
            told.append([label, book, None, weight_mg])
        self._full.clear()
        facts = {"note_code": note_code, "containers": told}
        rows.tell("waste.collected", about=("collections", collection), at=instant, by=by, facts=facts)

    @property
    def containers(self) -> set[int]:
        """The containers in use, and those that wait for the carrier."""
        return {container for container, *_ in (*self._containers.values(), *self._full)}

    def forget(self, gone: set[int]) -> None:
        """Leave alone the containers that somebody else has collected or shut."""
        self._containers = {code: held for code, held in self._containers.items() if held[0] not in gone}
        self._full = [held for held in self._full if held[0] not in gone]
