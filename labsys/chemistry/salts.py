"""Salts and the water of crystallisation they are sold with: what to weigh when the jar holds another crystal."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from labsys.chemistry.errors import CalculationError

# IUPAC abridged standard atomic weights 2021. [g/mol]
_ATOMIC_WEIGHTS = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "O": 15.999,
    "Na": 22.990,
    "Al": 26.982,
    "S": 32.06,
    "K": 39.098,
}
_WATER = 2 * _ATOMIC_WEIGHTS["H"] + _ATOMIC_WEIGHTS["O"]


@dataclass(frozen=True, slots=True)
class Salt:
    """A salt without its water of crystallisation, as atoms to the formula unit, and the hydrates that are sold."""

    name: str
    atoms: Mapping[str, int]
    hydrates: tuple[int, ...]

    def grams_per_mole(self, *, waters: int) -> float:
        """Return the molar mass with some water of crystallisation.

        Parameters:
            waters: Molecules of water to the formula unit, one of those sold. [-]
        Returns:
            Molar mass. [g/mol]
        Raises:
            NoSuchHydrate: This hydrate is not listed.
        Source:
            IUPAC abridged standard atomic weights 2021.
        """
        if waters not in self.hydrates:
            raise NoSuchHydrate(self.name, waters)
        return sum(_ATOMIC_WEIGHTS[atom] * count for atom, count in self.atoms.items()) + waters * _WATER


@dataclass(eq=False)
class NoSuchHydrate(CalculationError):
    """The salt is not listed with this much water of crystallisation."""

    salt: str
    waters: int

    def __str__(self) -> str:
        return f"{self.salt} is not listed with {self.waters} water"


def _salt(name: str, hydrates: tuple[int, ...], **atoms: int) -> Salt:
    return Salt(name, MappingProxyType(atoms), hydrates)


SALTS = {
    salt.name: salt
    for salt in (
        _salt("sodium carbonate", (0, 1, 10), Na=2, C=1, O=3),
        _salt("sodium sulfite", (0, 7), Na=2, S=1, O=3),
        _salt("sodium thiosulfate", (0, 5), Na=2, S=2, O=3),
        _salt("sodium sulfate", (0, 10), Na=2, S=1, O=4),
        _salt("borax", (0, 5, 10), Na=2, B=4, O=7),
        _salt("sodium metaborate", (0, 4, 8), Na=1, B=1, O=2),
        _salt("citric acid", (0, 1), C=6, H=8, O=7),
        _salt("sodium sulfide", (0, 9), Na=2, S=1),
        _salt("potassium alum", (0, 12), K=1, Al=1, S=2, O=8),
    )
}


def hydrate_factor(*, salt: Salt, from_waters: int, to_waters: int) -> float:
    """Return the factor on the mass when one hydrate of a salt takes the place of another.

    Parameters:
        salt: The salt. [-]
        from_waters: Water of crystallisation in the formula, 0 for anhydrous. [-]
        to_waters: Water of crystallisation of what is at hand. [-]
    Returns:
        Factor. [-]
    Raises:
        NoSuchHydrate: One of the hydrates is not listed.
    Source:
        Ratio of molar masses, IUPAC abridged standard atomic weights 2021.

    >>> round(hydrate_factor(salt=SALTS["sodium carbonate"], from_waters=0, to_waters=1), 3)
    1.17
    """
    return salt.grams_per_mole(waters=to_waters) / salt.grams_per_mole(waters=from_waters)


WATER_NAMES = {
    0: "anhydrous",
    1: "monohydrate",
    4: "tetrahydrate",
    5: "pentahydrate",
    7: "heptahydrate",
    8: "octahydrate",
    9: "nonahydrate",
    10: "decahydrate",
    12: "dodecahydrate",
}
_NO_WATER = ("anhydrous", "anhyd", "anh", "desiccated", "dried")
_MOST_WATER = ("crystals", "crystalline", "cryst")
_OTHER_NAMES = {"hypo": "sodium thiosulfate", "washing soda": "sodium carbonate", "soda ash": "sodium carbonate"}


@dataclass(frozen=True, slots=True)
class Crystal:
    """A salt with its water of crystallisation as it was written, None where that was not said."""

    salt: Salt
    waters: int | None

    @property
    def kinds(self) -> str:
        """The crystals it is sold as, in words."""
        return " or ".join(WATER_NAMES[waters] for waters in self.salt.hydrates)


def plain_name(text: str) -> str:
    """Return the name of a chemical in one spelling, to look it up by.

    Parameters:
        text: As somebody wrote it. [-]
    Returns:
        In small letters, sulfur with an f. [-]
    Source:
        Spelling: IUPAC.

    >>> plain_name("Sodium Sulphite")
    'sodium sulfite'
    """
    return " ".join(text.lower().replace("sulph", "sulf").split())


def read_crystal(text: str) -> Crystal | None:
    """Return the salt that a name means and its water of crystallisation, None where no listed salt is meant.

    Parameters:
        text: As somebody wrote it, such as "sodium carbonate, monohydrate" or "hypo crystals". [-]
    Returns:
        The salt, and its water where the name says it. [-]
    Raises:
        NoSuchHydrate: The salt is not listed with the water that is named.
    Source:
        That a formula must say which crystal is meant: US Army subcourse SS0513, Photographic Quality Control, ed. 9
        (1988). "Crystals" for the form with the most water: common practice, no source.

    >>> read_crystal("Sodium sulphite, crystals").waters
    7
    """
    name = plain_name(text)
    for other, own in _OTHER_NAMES.items():
        name = name.replace(other, own)
    salt = next((salt for salt in SALTS.values() if salt.name in name), None)
    if salt is None:
        return None
    said = name.replace(salt.name, " ").replace(",", " ").replace(".", " ").replace("(", " ").replace(")", " ").split()
    named = next((waters for waters, word in WATER_NAMES.items() if word in said), None)
    if named is None and any(word in said for word in _NO_WATER):
        named = 0
    if named is None and any(word in said for word in _MOST_WATER):
        named = max(salt.hydrates)
    if named is not None and named not in salt.hydrates:
        raise NoSuchHydrate(salt.name, named)
    return Crystal(salt, named)
