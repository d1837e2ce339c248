"""Testing baths: what a test showed, how often baths are tested, and what control strips aim at."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import delete

from labsys.baths import queries, rules
from labsys.baths.due import kinds_of_check
from labsys.baths.models import Bath, Check, CheckKind, CheckRule
from labsys.baths.strip_models import StripAim
from labsys.baths.tested import less
from labsys.chemistry.bath_rules import Colour, Stain
from labsys.chemistry.control_strips import Limits, NotAStrip, Readings, steps_to_read
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require


@dataclass(frozen=True)
class Found:
    """What a test showed: a figure in thousandths, a colour, a stain, or what was read off a strip."""

    value_milli: int | None = None
    milli_c: int | None = None
    colour: Colour | None = None
    stain: Stain | None = None
    strip: Readings | None = None
    is_fresh: bool = False


@dataclass(frozen=True)
class StatedRule:
    """How often baths alike are tested in one way, and its limits, as somebody states it."""

    kind: CheckKind
    every_mm2: int | None = None
    every_days: int | None = None
    low_milli: int | None = None
    high_milli: int | None = None
    source: str = ""


@act
def check_bath(act: Act, *, bath_id: int, kind: CheckKind, found: Found, checked_at: datetime) -> Check:
    """Write down a test of a bath; what it means for the bath's life follows from it.

    Raises NotPermitted, NotFound or BathRefused.
    """
    require(act.actor, Permission.TEST_BATH)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    rules.check_not_dumped(bath, at=checked_at)
    if kind is CheckKind.CLEARING_TIME and not bath.line.work.is_film:
        raise rules.BathRefused("Paper cannot be seen to clear. Use another test for a paper fixer.", field="kind")
    if kind not in kinds_of_check(bath):
        raise rules.BathRefused(f"A {bath.place} is not tested by {kind}.", field="kind")
    if found.is_fresh and kind is not CheckKind.CLEARING_TIME:
        raise rules.BathRefused("Only a clearing time is taken of the fresh bath.", field="is_fresh")
    if kind is CheckKind.PH and found.milli_c is None:
        raise rules.BathRefused("Enter how warm the bath was as you read it.", field="celsius")
    used_by_then = less(bath.used, queries.used_after(act.session, bath_id=bath.id, at=checked_at))
    check = Check(
        bath_id=bath.id,
        kind=kind,
        value_milli=found.value_milli,
        milli_c=found.milli_c,
        colour=found.colour,
        stain=found.stain,
        is_fresh=found.is_fresh,
        **_of_strip(act, bath, found.strip),
        **asdict(used_by_then),
        checked_at=checked_at,
        recorded_at=act.now,
        checked_by_id=act.actor.id,
    )
    act.session.add(check)
    act.session.flush()
    facts = {"bath": bath.code, "kind": kind, "finding": check.finding}
    act.tell("bath.checked", about=check, facts=facts)
    return check


def _of_strip(act: Act, bath: Bath, strip: Readings | None) -> dict[str, object]:
    """The columns of a control strip: what was read, and the aim it is held against."""
    if strip is None:
        return {}
    aim = queries.aim_of_line(act.session, bath.line_id)
    if aim is None:
        raise rules.BathRefused("No reference strip of this line is read yet. Read one first: it is the aim.")
    if not strip.fog <= strip.speed < strip.middle:
        raise rules.BathRefused("The steps of a strip grow darker: check the three densities.", field="middle")
    return {**asdict(strip), "aim": aim}


@act
def state_check_rules(act: Act, *, bath_id: int, stated: Sequence[StatedRule]) -> Bath:
    """Say how often baths like this one are tested, and between which limits; it takes the place of what was said.

    They are alike by line, place, product and dilution. Raises NotPermitted, NotFound or BathRefused.
    """
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id)
    queries.line_or_raise(act.session, bath.line_id, lock=True)
    alike = {
        "line_id": bath.line_id,
        "place": bath.place,
        "product_id": bath.product_id,
        "water_parts_milli": bath.water_parts_milli,
    }
    act.session.execute(delete(CheckRule).filter_by(**alike))
    for rule in stated:
        if rule.kind not in kinds_of_check(bath):
            raise rules.BathRefused(f"A {bath.place} is not tested by {rule.kind}.")
        act.session.add(CheckRule(**alike, **asdict(rule)))
    act.session.flush()
    act.session.expire(bath, ["check_rules"])
    act.tell("bath.check_rules_stated", about=bath, facts={"rules": [asdict(rule) for rule in stated]})
    return bath


@act
def set_aim(act: Act, *, line_id: int, box: str, densities: Sequence[int], limits: Limits) -> StripAim:
    """Read a reference strip, every step of it: from then on the line's control strips are held against it.

    Raises NotPermitted, NotFound or BathRefused.
    """
    require(act.actor, Permission.KEEP_BATHS)
    line = queries.line_or_raise(act.session, line_id, lock=True)
    if not line.work.is_film:
        raise rules.BathRefused("Control strips are of film: this line is for paper.")
    try:
        speed_step, middle_step = steps_to_read(densities)
    except NotAStrip as error:
        words = str(error)
        raise rules.BathRefused(f"{words[:1].upper()}{words[1:]}.", field="densities") from error
    aim = StripAim(
        line_id=line.id,
        box=box,
        speed_step=speed_step,
        middle_step=middle_step,
        fog=densities[0],
        speed=densities[speed_step - 1],
        middle=densities[middle_step - 1],
        **asdict(limits),
        set_at=act.now,
        set_by_id=act.actor.id,
    )
    act.session.add(aim)
    act.session.flush()
    facts = {"box": box, "densities": list(densities), **asdict(limits)}
    act.tell("line.strip_aim_set", about=line, facts=facts)
    return aim
