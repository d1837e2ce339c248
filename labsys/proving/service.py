"""What people write down of washes and safelights."""

from dataclasses import asdict, dataclass
from datetime import datetime

from labsys.baths import queries as baths
from labsys.baths import rules
from labsys.baths.tested import less
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.sizes import Load, Material
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.places import queries as places
from labsys.products import queries as products
from labsys.products.models import LearnedCapacity
from labsys.proving import capacity
from labsys.proving.models import SafelightTest, WashTest
from labsys.records.errors import Refused


class ProvingRefused(Refused):
    """The test cannot be so; the message says why."""


@dataclass(frozen=True)
class WashFound:
    """What was tested of a line's work, and what it showed: a stain, or what was measured."""

    material: Material
    piece: str
    bath_id: int | None = None
    stain: Stain | None = None
    ug_per_m2: int | None = None


@act
def test_wash(act: Act, *, line_id: int, found: WashFound, tested_at: datetime) -> WashTest:
    """Write down how well work of a line is washed. Raises NotPermitted, NotFound or Refused."""
    require(act.actor, Permission.TEST_BATH)
    line = baths.line_or_raise(act.session, line_id)
    if found.material not in line.work.materials:
        raise ProvingRefused(f"{line.name} is for {line.work}: that goes through another line.", field="material")
    by_then = Load()
    if found.bath_id is not None:
        bath = baths.bath_with_life(act.session, found.bath_id)
        if bath.line_id != line.id:
            raise ProvingRefused(f"{bath.name} {bath.code} is of another line.", field="bath_id")
        if tested_at < bath.mixed_at:
            raise rules.BathRefused(f"{bath.name} {bath.code} was not mixed yet at that time.", field="when")
        later = baths.used_after(act.session, bath_id=bath.id, at=tested_at)
        by_then = less(bath.used, later)
    test = WashTest(
        line_id=line.id,
        **asdict(found),
        **asdict(by_then),
        tested_at=tested_at,
        recorded_at=act.now,
        tested_by_id=act.actor.id,
    )
    act.session.add(test)
    act.session.flush()
    facts = {"line": line.code, "finding": test.finding, "piece": test.piece}
    act.tell("wash.tested", about=test, facts=facts)
    return test


@dataclass(frozen=True)
class LightFound:
    """What was tested under a safelight, and what it showed: the steps of coins, or the density gained."""

    paper: str
    lamp: str
    distance_cm: int
    clean_s: int | None = None
    changed_s: int | None = None
    needed_s: int | None = None
    gain_milli: int | None = None


@act
def test_safelight(act: Act, *, station_id: int, found: LightFound, tested_at: datetime) -> SafelightTest:
    """Write down what the safelight of a place does to a paper or a film. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.TEST_BATH)
    station = places.station_or_raise(act.session, station_id)
    test = SafelightTest(
        station_id=station.id, **asdict(found), tested_at=tested_at, recorded_at=act.now, tested_by_id=act.actor.id
    )
    act.session.add(test)
    act.session.flush()
    facts = {"station": station.name, "finding": test.finding, "paper": test.paper, "lamp": test.lamp}
    act.tell("safelight.tested", about=test, facts=facts)
    return test


@act
def approve_capacity(
    act: Act, *, product_id: int, water_parts_milli: int, material: Material, per_litre: int
) -> LearnedCapacity:
    """Approve what this lab's tests propose a litre takes. Once a second person has, it is the figure that counts.

    Raises NotPermitted, NotFound, or ProvingRefused where the tests say something else by now, or the same person
    approved it already.
    """
    require_any(act.actor, Permission.KEEP_BATHS, Permission.CONFIRM_PRODUCT)
    product = products.product_or_raise(act.session, product_id, lock=True)
    learning = capacity.learning_of(act.session, product, water_parts_milli=water_parts_milli, material=material)
    proposal = learning.proposal if learning else None
    if learning is None or proposal is None or proposal.per_litre != per_litre:
        raise ProvingRefused("The tests say something else by now. Open this page again.")
    waiting = learning.waiting
    if waiting is not None and waiting.first_by_id == act.actor.id:
        raise ProvingRefused("You approved it already. A second person has to.")
    if waiting is not None:
        waiting.second_by_id, waiting.second_at = act.actor.id, act.now
        approved = waiting
    else:
        approved = LearnedCapacity(
            product_id=product.id,
            water_parts_milli=water_parts_milli,
            material=material,
            supplier_per_litre=learning.supplier,
            per_litre=proposal.per_litre,
            low=proposal.low,
            high=proposal.high,
            baths=proposal.baths,
            silver_baths=proposal.silver_baths,
            thiosulfate_baths=proposal.thiosulfate_baths,
            first_at=act.now,
            first_by_id=act.actor.id,
        )
        act.session.add(approved)
    act.session.flush()
    facts = {"material": material, "dilution_milli": water_parts_milli, "per_litre": per_litre, "row": approved.id}
    act.tell("product.capacity_approved", about=product, facts={**facts, "is_in_force": waiting is not None})
    return approved
