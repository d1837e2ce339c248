"""Whose measuring cylinders a sum takes: those entered in the chemical store, else common ones."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import create_engine
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import LIMITS, Cylinder, CylinderClass, Standard
from labsys.config import ConfigError, load_config
from labsys.equipment.queries import instruments
from labsys.equipment.rules import Instruments
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import cylinder_rows, cylinders_for, unchecked_in_words

COMMON_CYLINDERS = tuple(
    Cylinder(size, row.divisions_ml[0], CylinderClass.B) for size, row in LIMITS[Standard.ISO_4788].items()
)
OWN_CYLINDERS = "Measured with the lab's own cylinders, as they are entered in the chemical store."
NO_CYLINDERS = "No measuring cylinders are entered in the chemical store: common sizes, class B of ISO 4788, are taken."
NOT_LOOKED_UP = "No lab could be asked for its own cylinders: common sizes, class B of ISO 4788, are taken."


ALL_FAILED = (
    "The lab's own measuring cylinders for it failed their checks, so none of them is used: common sizes, class B of "
    "ISO 4788, are taken."
)


@dataclass(frozen=True)
class LabHere:
    """What a lab measures with."""

    cylinders: Sequence[OwnedCylinder]
    instruments: Instruments


def to_measure_with(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> tuple[Sequence[Cylinder], str]:
    """The cylinders for a kind of solution, and a sentence that says whose they are."""
    entered = cylinders_for(owned, kind)
    if entered:
        return entered, f"{OWN_CYLINDERS} {unchecked_in_words(owned, kind)}".strip()
    has_failed = any(row.kept_for in (None, kind) for row in owned)
    return COMMON_CYLINDERS, ALL_FAILED if has_failed else NO_CYLINDERS


def lab_here() -> LabHere | None:
    """Read what the lab that a command runs in measures with; None where there is no lab, or it cannot be read."""
    try:
        engine = create_engine(load_config().database_url)
        if engine.name == "sqlite" and not Path(str(engine.url.database)).is_file():
            return None  # to look would be to make it
        with Session(engine) as session:
            return LabHere(cylinder_rows(session), instruments(session))
    except (ConfigError, SQLAlchemyError):
        return None
