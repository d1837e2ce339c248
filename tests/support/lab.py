"""A small lab made through the services: one person a role, streams, products, a film line and a paper line."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, Concatenate

from sqlalchemy import func, select

from labsys.baths import service as baths
from labsys.baths import uses
from labsys.baths.models import Bath, BathLine, Place, Use, Work
from labsys.baths.rules import PLACE_OF, Taken
from labsys.bookings import service as bookings
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Material, Pieces, area_of_units_mm2, size_of
from labsys.closing.rules import Answer, Fate
from labsys.competences import service as competences
from labsys.competences.models import Competence, CompetenceGrant
from labsys.database import DbSession
from labsys.duty import service as duty
from labsys.duty.models import AloneRule, DutyKind
from labsys.duty.rules import Settings as DutySettings
from labsys.equipment import service as equipment
from labsys.equipment.models import CheckKind
from labsys.equipment.service import Found
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.models import Induction, SignOff
from labsys.lab.rules import Settings, settings_of
from labsys.lab.service import change_lab, set_up_lab
from labsys.labware import service as labware
from labsys.labware.models import OwnedCylinder, WorkingVessel, WorkingVesselKind
from labsys.membership.ages import state_age
from labsys.membership.service import set_rules
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Person, Role
from labsys.places import service as places
from labsys.places.models import RoomKind, Station
from labsys.places.rules import RoomFacts, StationFacts
from labsys.processes import service as processes
from labsys.processes.models import Process
from labsys.products import rules as products
from labsys.products import service as product_service
from labsys.products.models import Product
from labsys.products.sheet import (
    CapacityMeasure,
    ProductSheet,
    StatedAge,
    StatedCapacity,
    StatedDilution,
    StatedIngredient,
)
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.records.models import Admits
from labsys.records.queries import the_lab, zone
from labsys.store import service as store
from labsys.store.models import Bottle
from labsys.store.rules import Noted
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span
from labsys.waste import service as waste
from labsys.waste import sewer
from labsys.waste.models import SewerConsent, StatedProperties, WasteContainer, WasteStream
from labsys.waste.stating import state_properties
from tests.support.beginnings import Beginnings, Details, Made

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PASSWORD = "five plain words of mine"
CHEAP = (1, 8, 1)  # a cost of passwords for tests
SOURCE = "a data sheet made up for the tests"

HYDROQUINONE = StatedIngredient(
    "hydroquinone",
    "123-31-9",
    30_000,
    50_000,
    "Acute Tox. 4 H302; Eye Dam. 1 H318; Skin Sens. 1 H317; Muta. 2 H341; Carc. 2 H351; Aquatic Acute 1 H400",
    m_acute=10,
)
ACETIC_ACID = StatedIngredient(
    "acetic acid",
    "64-19-7",
    300_000,
    400_000,
    "Flam. Liq. 3 H226; Skin Corr. 1A H314",
    "Skin Corr. 1A H314: C>=90; Skin Corr. 1B H314: 25<=C<90; "
    "Skin Irrit. 2 H315: 10<=C<25; Eye Irrit. 2 H319: 10<=C<25",
)


def do(
    function: Callable[..., Any],
    session: DbSession,
    *,
    actor: Person,
    now: datetime,
    submission_key: str | None = None,
    **arguments: Any,
) -> Any:
    """Have somebody do something, with who and when among the arguments, as tables of cases like to have them."""
    return function(Act(session, by=actor, now=now, key=submission_key), **arguments)


def product_entry(kind: SolutionKind, **changes: Any) -> ProductSheet:
    """What the tests enter of one product of a kind."""
    film_20 = area_of_units_mm2(units=20)
    entries: dict[SolutionKind, dict[str, Any]] = {
        SolutionKind.DEVELOPER: {
            "name": "PQ liquid concentrate",
            "waste_code": "09 01 01*",
            "h_codes": "H302 H317 H318 H341 H351 H410",
            "density_mg_per_ml": 1_200,
            "ingredients": [HYDROQUINONE],
            "dilutions": [StatedDilution(6_000, "film")],
            "capacities": [StatedCapacity(6_000, Material.FILM, CapacityMeasure.PIECES, 10, SOURCE)],
            "ages": [StatedAge(Holding.TANK, 24 * 30, SOURCE)],
        },
        SolutionKind.STOP: {
            "name": "Acetic stop concentrate",
            "waste_code": "09 01 99",
            "h_codes": "H314",
            "density_mg_per_ml": 1_050,
            "ingredients": [ACETIC_ACID],
            "dilutions": [StatedDilution(19_000, "film and paper")],
            "capacities": [
                StatedCapacity(19_000, material, CapacityMeasure.AREA, film_20, SOURCE) for material in Material
            ],
            "ages": [StatedAge(Holding.TANK, 24 * 30, SOURCE), StatedAge(Holding.TRAY, 72, SOURCE)],
            "ph_limit_milli": 5_800,
        },
        SolutionKind.FIXER: {
            "name": "Rapid fixer concentrate",
            "waste_code": "09 01 04*",
            "h_codes": "not classified",
            "density_mg_per_ml": 1_300,
            "dilutions": [StatedDilution(4_000, "film"), StatedDilution(9_000, "paper")],
            "capacities": [
                StatedCapacity(4_000, Material.FILM, CapacityMeasure.AREA, film_20, SOURCE),
                StatedCapacity(9_000, Material.RC, CapacityMeasure.AREA, 2 * film_20, SOURCE),
                StatedCapacity(9_000, Material.FIBRE, CapacityMeasure.AREA, film_20, SOURCE),
            ],
            "ages": [StatedAge(Holding.TANK, 24 * 60, SOURCE), StatedAge(Holding.TRAY, 24 * 7, SOURCE)],
        },
    }
    entries[SolutionKind.WASH_AID] = {
        "name": "Sulfite wash aid",
        "waste_code": "09 01 99",
        "h_codes": "not classified",
        "density_mg_per_ml": 1_100,
        "ingredients": [StatedIngredient("sodium sulfite", "7757-83-7", 100_000, 200_000, "EUH031")],
        "dilutions": [StatedDilution(9_000, "fibre paper")],
    }
    common = {"supplier": "Made-up Supplies", "kind": kind, "sds_date": date(2025, 5, 1)}
    return ProductSheet(**{**common, **entries[kind], **changes})


@dataclass
class SmallLab:
    """Everything the tests need to begin; each act takes the clock on by a minute."""

    session: DbSession
    now: datetime = START
    ids: dict[str, int] = field(default_factory=dict)
    film_line_id: int = 0
    paper_line_id: int = 0
    beginnings: Beginnings | None = None

    @classmethod
    def set_up(cls, session: DbSession) -> "SmallLab":
        lab = cls(session)
        invited = set_up_lab(
            Act(session, by=None, now=lab.now),
            settings=Settings(
                name="Alder Street Darkroom",
                timezone="Europe/London",
                nation="England",
                emergency="Front desk 01632 960000",
            ),
            code_prefix="AS",
            manager_name="Μαρία Ιωάννου",
            manager_email="manager@example.org",
        )
        lab.come_in("manager", invited)
        for role, name in (
            (Role.MEMBER, "Łukasz Żak"),
            (Role.INSTRUCTOR, "Ines Carrow"),
            (Role.TECHNICIAN, "Sol Haddad"),
            (Role.SAFETY_ADVISER, "Пётр Орлов"),
        ):
            email = f"{role.replace(' ', '.')}@example.org"
            invited = people.invite_person(
                Act(session, by=lab.person("manager"), now=lab.tick()), name=name, email=email, roles=[role]
            )
            lab.come_in(str(role), invited)
        set_rules(Act(session, by=lab.person("manager"), now=lab.now), admits_under_18=Admits.YES)
        technician = lab.person("technician")
        for name, code in (("Used developer", "09 01 01*"), ("Used fixer", "09 01 04*"), ("Used stop", "09 01 99")):
            waste.add_stream(Act(session, by=technician, now=lab.tick()), name=name, code=code)
        for nominal_ml, division_ul in ((50, 1_000), (250, 2_000), (500, 5_000), (1_000, 10_000)):
            lab.add_cylinder(nominal_ml, division_ul)
        lab.make_competent("manager", Competence.RELEASING, Competence.WASTE_AWAY, alone=True)
        lab.make_competent("safety adviser", Competence.RELEASING, alone=True)
        lab.make_competent("technician", *Competence, alone=True)
        for kind in (SolutionKind.DEVELOPER, SolutionKind.STOP, SolutionKind.FIXER):
            lab.add_product(kind)
        lab.film_line_id = lab.add_line("Film line", Work.FILM).id
        lab.paper_line_id = lab.add_line("Paper line", Work.PAPER).id
        return lab

    def add_cylinder(
        self,
        nominal_ml: int,
        division_ul: int,
        accuracy_class: CylinderClass = CylinderClass.B,
        kept_for: SolutionKind | None = None,
    ) -> OwnedCylinder:
        """A measuring cylinder whose check found it as exact as its class, or as two divisions where none is marked."""
        cylinder = labware.add_cylinder(
            self.act("technician"),
            nominal_ml=nominal_ml,
            division_ul=division_ul,
            accuracy_class=accuracy_class,
            kept_for=kept_for,
        )
        divisions = {CylinderClass.A: 0.5, CylinderClass.B: 1, CylinderClass.UNMARKED: 2}[accuracy_class]
        doubt_micro = division_ul * 1_000 // 20
        equipment.check(
            self.act("technician"),
            equipment_id=cylinder.equipment_id,
            kind=CheckKind.READING,
            happened_on=self.now.date(),
            found=Found(
                has_passed=True,
                error_micro=round(divisions * division_ul * 1_000) - doubt_micro,
                doubt_micro=doubt_micro,
            ),
        )
        return cylinder

    def come_in(self, role: str, invited: people.Invitation) -> None:
        """Have somebody who was invited choose a password: from then on they hold their role."""
        person = people.choose_password(
            Act(self.session, by=None, now=self.now), token=invited.token, password=PASSWORD, cost=CHEAP
        )
        self.ids[role] = person.id
        state_age(Act(self.session, by=person, now=self.now), person_id=person.id, until=None)

    def make_competent(self, role: str, *of: Competence, alone: bool = False) -> list[CompetenceGrant]:
        """Have somebody granted what their acts ask for: by the technician with a witness, or the manager alone."""
        today = to_local(self.now, zone=zone(self.session)).date()
        witness = "member" if role == "instructor" else "instructor"
        granted = []
        for competence in of:
            made = competences.grant(
                self.act("manager" if alone else "technician"),
                person_id=self.ids[role],
                competence=competence,
                may_grant=role == "technician",
                happened_on=today,
                until=today + timedelta(days=5 * 365),
                witness_id=None if alone else self.ids[witness],
                because="the first who knows it here" if alone else "",
            )
            if not alone:
                competences.witness(self.act(witness), grant_id=made.id)
            granted.append(made)
        return granted

    def resume(self, session: DbSession, beginnings: Beginnings | None = None) -> "SmallLab":
        """The same lab over another session, such as one on a copy of its database."""
        return replace(self, session=session, ids=dict(self.ids), beginnings=beginnings)

    def begin(
        self, acts: Callable[Concatenate["SmallLab", Details], Made], *details: Details.args, **named: Details.kwargs
    ) -> Made:
        """Do what tests begin with. In an untouched lab it is copied, if a test began so before; it gives no rows."""
        if self.beginnings is None:
            return acts(self, *details, **named)
        return self.beginnings.begin(self, acts, *details, **named)

    def tick(self, **later: float) -> datetime:
        """Let time pass, a minute unless told otherwise, and say what time it is."""
        self.now += timedelta(**later) if later else timedelta(minutes=1)
        return self.now

    def act(self, who: str | Person, *, key: str | None = None, now: datetime | None = None) -> Act:
        """An act of somebody, named by role: a minute later, unless told otherwise."""
        by = self.person(who) if isinstance(who, str) else who
        return Act(self.session, by=by, now=now or self.tick(), key=key)

    def count(self, model: type) -> int:
        """How many rows there are of a kind."""
        return self.session.execute(select(func.count()).select_from(model)).scalar_one()

    def person(self, role: str) -> Person:
        return self.session.get_one(Person, self.ids[role])

    def add_product(self, kind: SolutionKind, *, confirmed: bool = True, **changes: Any) -> Product:
        product = product_service.add_product(self.act("technician"), sheet=product_entry(kind, **changes))
        if confirmed:
            product_service.confirm_product(self.act("safety adviser"), product_id=product.id)
        self.ids.setdefault(f"product {kind}", product.id)
        return product

    def add_line(self, name: str, work: Work) -> BathLine:
        return baths.add_line(self.act("technician"), name=name, work=work, process_id=None)

    def add_bottle(self, kind: SolutionKind, *, amount_ul: int = 1 * UL_PER_L) -> Bottle:
        return store.receive_bottle(
            self.act("technician"),
            product_id=self.ids[f"product {kind}"],
            amount=amount_ul,
            noted=Noted(lot="LOT 1", received_at=self.now),
        )

    def mix(
        self,
        kind: SolutionKind,
        *,
        water_parts: int,
        working_ml: int,
        paper: bool = False,
        in_service: bool = True,
        **changes: Any,
    ) -> Bath:
        """Mix a bath exactly as worked out, from a new full bottle."""
        told = {"water_parts": water_parts, "working_ml": working_ml, "paper": paper, "in_service": in_service}
        return self.session.get_one(Bath, self.begin(SmallLab._mix, kind, **told, **changes))

    def _mix(
        self, kind: SolutionKind, *, water_parts: int, working_ml: int, paper: bool, in_service: bool, **changes: Any
    ) -> int:
        wanted = products.amounts(
            dilution=products.dilution_of_milli(water_parts * 1_000),
            working_ul=working_ml * UL_PER_ML,
            powder_mg_per_l=None,
        )
        bottle = self.add_bottle(kind)
        arguments: dict[str, Any] = {
            "actor": self.person("technician"),
            "product_id": self.ids[f"product {kind}"],
            "water_parts_milli": water_parts * 1_000,
            "line_id": self.paper_line_id if paper else self.film_line_id,
            "place": PLACE_OF[kind],
            "name": f"{'Paper' if paper else 'Film'} {kind}",
            "holding": Holding.TRAY if paper else Holding.TANK,
            "capacity_ul": working_ml * UL_PER_ML + 500 * UL_PER_ML,
            "working_ul": working_ml * UL_PER_ML,
            "taken": [Taken(bottle.id, wanted.from_bottle)],
            "water_ul": wanted.water_ul,
            "in_service": in_service,
            "mixed_at": self.tick(),
            "now": self.now,
        }
        return do(baths.mix_bath, self.session, **{**arguments, **changes}).id

    def mix_film_line(self) -> dict[Place, Bath]:
        """Developer 1+6, stop 1+19 and fixer 1+4, 2.5 L each, in service."""
        return {place: self.session.get_one(Bath, key) for place, key in self.begin(SmallLab._mix_film_line).items()}

    def _mix_film_line(self) -> dict[Place, int]:
        return {
            Place.DEVELOPER: self.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500).id,
            Place.STOP: self.mix(SolutionKind.STOP, water_parts=19, working_ml=2_500).id,
            Place.FIXER: self.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500).id,
        }

    def log(
        self, count: int, *, size: str = "120", material: Material = Material.FILM, role: str = "member", **changes: Any
    ) -> Use:
        arguments: dict[str, Any] = {
            "actor": self.person(role),
            "line_id": self.film_line_id,
            "went": [Pieces(size_of(key=size), material, count)],
            "used_at": self.tick(),
            "now": self.now,
        }
        return do(uses.log_uses, self.session, **{**arguments, **changes})[0]

    def stream(self, code: str) -> WasteStream:
        return self.session.query(WasteStream).filter_by(code=code).one()

    def open_container(self, code: str = "09 01 04*", *, capacity_ml: int = 25_000) -> WasteContainer:
        return waste.open_container(
            self.act("technician"),
            stream_id=self.stream(code).id,
            capacity_ul=capacity_ml * UL_PER_ML,
            place="under the wet side",
            opened_at=self.now,
        )

    def state(self, container: WasteContainer, properties: str = "") -> StatedProperties:
        """Have the safety adviser state the hazardous properties of what is in a container now."""
        usual = "HP 5, HP 14" if container.code.endswith("*") else "none"
        return state_properties(
            self.act("safety adviser"),
            container_id=container.id,
            properties=properties or usual,
            reason="Assessed by the consignee, 2 March 2026",
        )

    def dump(self, bath: Bath, container: WasteContainer | None, *, volume_ml: int, is_done: bool = False) -> Bath:
        return baths.dump_bath(
            self.act("technician"),
            bath_id=bath.id,
            container_id=container.id if container else None,
            volume_ul=volume_ml * UL_PER_ML,
            dumped_at=self.now,
            is_done=is_done,
        )

    def drain_to(self, where: str, *, undertaker: str = "Invented Water 01632 960111") -> None:
        """Say where the sinks drain to, and whom to ring."""
        settings = replace(settings_of(the_lab(self.session)), drains_to=where, undertaker=undertaker)
        change_lab(self.act("manager"), settings=settings)

    def add_consent(self, *codes: str, **changes: Any) -> SewerConsent:
        """A consent for some codes, in a lab whose sinks drain to the foul sewer."""
        self.drain_to("foul sewer")
        entry = {
            "reference": "TE 4711",
            "issued_by": "Invented Water",
            "most_ul_a_day": None,
            "valid_from": date(2026, 1, 1),
            "valid_until": date(2099, 12, 31),
            "codes": codes,
        }
        return sewer.add_consent(self.act("safety adviser"), entry=sewer.ConsentEntry(**{**entry, **changes}))

    def add_process(self) -> Process:
        return processes.add_process(
            self.act("technician"),
            name="Black-and-white film",
            material=Material.FILM,
            note="",
            steps=[processes.StepEntry(name="Fix", product_id=self.ids["product fixer"], water_parts_milli=4_000)],
        )

    def add_vessel(self, name: str = "Five-reel tank", **changes: Any) -> WorkingVessel:
        """A five-reel 2.5 L tank, unless told otherwise."""
        fields: dict[str, Any] = {
            "name": name,
            "kind": WorkingVesselKind.TANK,
            "capacity_ul": 2_700_000,
            "fills": [labware.FillEntry("120", 5, 2_500_000)],
            "source": SOURCE,
        }
        entry = labware.VesselEntry(**{**fields, **changes})
        return labware.add_vessel(self.act("technician"), entry=entry)

    def add_induction(self, name: str, *, valid_days: int | None = 365, **needed_for: Any) -> Induction:
        return inductions.add_induction(
            self.act("safety adviser"),
            name=name,
            how_to_get="Come to the induction on Mondays at six.",
            text="Gloves on before the bottle is open.\nTongs, never fingers.",
            valid_days=valid_days,
            needed_for=inductions.NeededFor(**needed_for),
        )

    def appoint(self, induction: Induction, role: str = "instructor") -> SignOff:
        """Name the first holder of an induction, and have them confirm it."""
        signed = signing.appoint_holder(
            self.act("safety adviser"), induction_id=induction.id, person_id=self.ids[role], taught_at=self.now
        )
        return signing.confirm(self.act(role), sign_off_id=signed.id)

    def sign_off(self, induction: Induction, role: str = "member", *, confirmed: bool = True) -> SignOff:
        """Have the instructor, who holds it, sign somebody off, and have them confirm it."""
        signed = signing.sign_off_many(
            self.act("instructor"), person_ids=[self.ids[role]], induction_ids=[induction.id], taught_at=self.now
        )
        if confirmed:
            signing.confirm(self.act(role), sign_off_id=signed.id)
        return signed

    def add_places(self) -> dict[str, Station]:
        """Four enlargers that bring a place at the wet side, one film sink with a margin; open 10:00-22:00 each day."""
        return {name: self.session.get_one(Station, key) for name, key in self.begin(SmallLab._add_places).items()}

    def _add_places(self) -> dict[str, int]:
        technician = self.person("technician")
        room = places.add_room(self.act(technician), name="Wet room", facts=RoomFacts(kind=RoomKind.SAFELIGHT))
        made = {}
        for position, (name, units, margin) in enumerate(
            (("Film sink", 1, 15), ("Enlarger", 4, 0), ("Wet side", 6, 30))
        ):
            station = places.add_station(
                self.act(technician),
                room_id=room.id,
                name=name,
                units=units,
                facts=StationFacts(margin_minutes=margin, position=position, note=""),
            )
            made[name] = self.ids[name] = station.id
        places.set_companions(self.act(technician), station_id=self.ids["Enlarger"], brings=[self.ids["Wet side"]])
        places.set_opening_hours(self.act(technician), hours=[Hours(day, 600, 1320) for day in range(7)])
        return made

    def fill_rota(self, *, alone: AloneRule = AloneRule.ADULTS) -> None:
        """Name who is on duty at every opening, and say what holds for working alone."""
        keys, first_aid, on_call = (self.ids[role] for role in ("technician", "instructor", "manager"))
        for number in range(7):
            duty.name_turns(
                self.act("manager"),
                day=date(2026, 3, 2) + timedelta(days=number),
                from_minute=600,
                until_minute=1320,
                every_week=True,
                named={
                    DutyKind.KEYHOLDER: duty.Named(keys),
                    DutyKind.FIRST_AIDER: duty.Named(first_aid),
                    DutyKind.ON_CALL: duty.Named(on_call, "01632 960123"),
                },
            )
        duty.set_rules(self.act("manager"), settings=DutySettings(alone=alone))

    def leaving_all(self) -> dict[int, Answer]:
        """To a closure: every booking there is stays as it is."""
        return {booking_id: Answer(Fate.KEEP) for booking_id in self.session.execute(select(Booking.id)).scalars()}

    def book(
        self, station: str, span: Span, *, role: str = "member", actor: str | None = None, **changes: Any
    ) -> Booking:
        arguments: dict[str, Any] = {
            "actor": self.person(actor or role),
            "person_id": self.ids[role],
            "station_id": self.ids[station],
            "span": span,
            "plan": Plan(),
            "now": self.tick(),
        }
        return do(bookings.book, self.session, **{**arguments, **changes})
