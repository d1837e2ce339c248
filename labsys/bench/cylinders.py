"""Whose measuring cylinders a sum takes: those entered in the chemical store, else common ones."""

from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import create_engine
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import LIMITS, Cylinder, CylinderClass, Standard
from labsys.config import ConfigError, load_config
from labsys.labware.models import OwnedCylinder
from labsys.labware.queries import cylinder_rows, cylinders_for

COMMON_CYLINDERS = tuple(
    Cylinder(size, row.divisions_ml[0], CylinderClass.B) for size, row in LIMITS[Standard.ISO_4788].items()
)
OWN_CYLINDERS = "Measured with the lab's own cylinders, as they are entered in the chemical store."
NO_CYLINDERS = "No measuring cylinders are entered in the chemical store: common sizes, class B of ISO 4788, are taken."
NOT_LOOKED_UP = "No lab could be asked for its own cylinders: common sizes, class B of ISO 4788, are taken."


def to_measure_with(owned: Sequence[OwnedCylinder], kind: SolutionKind) -> tuple[Sequence[Cylinder], str]:
    """The cylinders for a kind of solution, and a sentence that says whose they are."""
    entered = cylinders_for(owned, kind)
    return (entered, OWN_CYLINDERS) if entered else (COMMON_CYLINDERS, NO_CYLINDERS)


def cylinders_here() -> list[OwnedCylinder] | None:
    """Read the cylinders of the lab that a command runs in; None where there is no lab, or it cannot be read."""
    try:
        engine = create_engine(load_config().database_url)
        if engine.name == "sqlite" and not Path(str(engine.url.database)).is_file():
            return None  # to look would be to make it
        with Session(engine) as session:
            return cylinder_rows(session)
    except (ConfigError, SQLAlchemyError):
        return None
