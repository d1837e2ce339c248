"""Reference entries for the substances a darkroom meets.

Facts to start from, never an authority: what is in the bottle is classified by its supplier, and a person confirms each
entry against that supplier's safety data sheet before it is used.
"""

from dataclasses import dataclass
from functools import cache

from .cas import check_cas
from .classes import Family, HazardClass, read_class
from .errors import UnknownSubstance
from .exposure_limits import has_limit
from .mixtures.model import Ate, Ingredient, Route, SpecificLimit, read_limit
from .tables import read_table


@dataclass(frozen=True)
class Substance:
    """One reference entry with its source and how far it is to be trusted."""

    name: str
    cas: str
    formula: str
    molar_mass_g_mol: float | None
    basis: str
    classes: tuple[HazardClass, ...]
    euh: tuple[str, ...]
    limits: tuple[SpecificLimit, ...]
    m_acute: float | None
    m_chronic: float | None
    ates: tuple[Ate, ...]
    families: frozenset[Family]
    vapour_pressure_pa_20c: float | None
    source: str
    confidence: str

    def as_ingredient(self, *, high_percent: float) -> Ingredient:
        """Return this substance as an ingredient of a mixture.

        Parameters:
            high_percent: The most that can be in it. [% w/w]
        Returns:
            The ingredient, with the reference classification. [-]
        Raises:
            OutOfRange: Outside 0 to 100 %.
        """
        return Ingredient(
            name=self.name,
            high_percent=high_percent,
            cas=self.cas,
            classes=self.classes,
            euh=self.euh,
            limits=self.limits,
            families=self.families,
            m_acute=self.m_acute,
            m_chronic=self.m_chronic,
            ates=self.ates,
            has_workplace_limit=has_limit(self.cas),
        )


@cache
def _by_cas() -> dict[str, Substance]:
    return {row["cas"]: _read(dict(row)) for row in read_table("substances")}


def all_substances() -> tuple[Substance, ...]:
    """Return every reference entry in file order.

    Returns:
        The entries. [-]
    """
    return tuple(_by_cas().values())


def substance(cas: str) -> Substance:
    """Return the reference entry of a CAS number.

    Parameters:
        cas: A CAS number as typed. [-]
    Returns:
        The entry. [-]
    Raises:
        BadCas: Not a CAS number.
        UnknownSubstance: No entry carries it.
    """
    number = check_cas(cas)
    try:
        return _by_cas()[number]
    except KeyError:
        raise UnknownSubstance(number) from None


def find_substances(words: str) -> tuple[Substance, ...]:
    """Return the reference entries whose name or CAS number holds the words.

    Parameters:
        words: Part of a name or number, in any case. [-]
    Returns:
        The matching entries in file order; none for blank words. [-]
    """
    wanted = words.strip().casefold()
    if not wanted:
        return ()
    return tuple(entry for entry in all_substances() if wanted in entry.name.casefold() or wanted in entry.cas)


def _read(row: dict[str, str]) -> Substance:
    listed = [part.strip() for part in row["classes"].split(";")]
    m_factors = dict(part.split() for part in _parts(row["m_factors"]))
    return Substance(
        name=row["name"],
        cas=row["cas"],
        formula=row["formula"],
        molar_mass_g_mol=_figure(row["molar_mass_g_mol"]),
        basis=row["basis"],
        classes=tuple(read_class(text) for text in listed if text != "not classified" and not text.startswith("EUH")),
        euh=tuple(text for text in listed if text.startswith("EUH")),
        limits=tuple(read_limit(text) for text in _parts(row["specific_limits"])),
        m_acute=_figure(m_factors.get("acute", "")),
        m_chronic=_figure(m_factors.get("chronic", "")),
        ates=tuple(Ate(Route(route), float(value)) for route, value in (part.split() for part in _parts(row["ate"]))),
        families=frozenset(Family(text) for text in _parts(row["families"])),
        vapour_pressure_pa_20c=_figure(row["vapour_pressure_pa_20c"]),
        source=row["source"],
        confidence=row["confidence"],
    )


def _parts(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _figure(text: str) -> float | None:
    return float(text) if text else None
