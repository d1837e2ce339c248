"""Tests out of the daily round: control strips, how often baths are tested, washes and safelights."""

from labsys.baths import queries as baths
from labsys.baths import testing
from labsys.baths.models import Bath, CheckKind, Place
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.control_strips import USUAL_LIMITS, Readings
from labsys.chemistry.sizes import Material, area_of_units_mm2
from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.proving import service as proving


def _bath(play: Play, told: Entry) -> Bath | None:
    """The bath in service at a place of a line, if one stands there."""
    line_id = play.ids[f"line {told['line']}"]
    standing = baths.baths_in_service(play.session, line_id=line_id, at=play.at)
    return next((bath for bath in standing if bath.place is Place(told["place"])), None)


def state_rules(play: Play, told: Entry) -> None:
    if bath := _bath(play, told):
        stated = [
            testing.StatedRule(
                CheckKind(rule["kind"]),
                every_mm2=area_of_units_mm2(units=rule["rolls"]) if "rolls" in rule else None,
                every_days=rule.get("days"),
            )
            for rule in told["rules"]
        ]
        testing.state_check_rules(play.act(told["who"]), bath_id=bath.id, stated=stated)


def read_reference(play: Play, told: Entry) -> None:
    testing.set_aim(
        play.act(told["who"]),
        line_id=play.ids[f"line {told['line']}"],
        box=told["box"],
        densities=told["densities"],
        limits=USUAL_LIMITS,
    )


def run_strip(play: Play, told: Entry) -> None:
    if bath := _bath(play, told):
        found = testing.Found(strip=Readings(*told["read"]))
        act = play.act(told["who"])
        testing.check_bath(act, bath_id=bath.id, kind=CheckKind.STRIP, found=found, checked_at=play.at)


def test_wash(play: Play, told: Entry) -> None:
    bath = _bath(play, told)
    found = proving.WashFound(
        material=Material(told["material"]),
        piece=told["piece"],
        bath_id=bath.id if bath else None,
        stain=Stain(told["stain"]),
    )
    act = play.act(told["who"])
    proving.test_wash(act, line_id=play.ids[f"line {told['line']}"], found=found, tested_at=play.at)


def test_safelight(play: Play, told: Entry) -> None:
    names = ("paper", "lamp", "distance_cm", "clean_s", "changed_s", "needed_s")
    found = proving.LightFound(**{name: told[name] for name in names})
    act = play.act(told["who"])
    proving.test_safelight(act, station_id=play.ids[f"station {told['station']}"], found=found, tested_at=play.at)
