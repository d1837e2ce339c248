"""Reference entries for the substances a darkroom meets.

Facts to start from, never an authority: what is in the bottle is classified by its supplier, and a person confirms each
entry against that supplier's safety data sheet before it is used. The published entry is a floor; where the row of this
project is stricter it stays, for protection, and says why.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from .cas import check_cas
from .classes import Family, HazardClass, read_class, severity_place
from .errors import UnknownSubstance
from .exposure_limits import has_limit
from .harmonised import Harmonised, harmonised, read_ates, read_m_factors
from .mixtures.model import Ate, Ingredient, SpecificLimit, read_limit
from .nations import Rules
from .tables import items_of, read_table

_SENSITISERS = ("1A", "1", "1B")  # from strong to weak
_COVERED_BY = {  # what corrodes irritates as well, and what corrodes the skin damages eyes
    "Skin Irrit.": ("Skin Corr.",),
    "Eye Dam.": ("Skin Corr.",),
    "Eye Irrit.": ("Skin Corr.", "Eye Dam."),
}
_BORON = re.compile(r"borax|borate|boric|boron")


@dataclass(frozen=True)
class Substance:
    """One reference entry under one list: the published entry, and what is kept above it, with source and date.

    `entry` is that of the list asked for; where that list has not been read for the substance it is the EU's, and
    `rules` of the entry says so. It is None for a substance without one.
    """

    name: str
    short_names: tuple[str, ...]
    cas: str
    formula: str
    molar_mass_g_mol: float | None
    classes: tuple[HazardClass, ...]
    euh: tuple[str, ...]
    limits: tuple[SpecificLimit, ...]
    m_acute: float | None
    m_chronic: float | None
    ates: tuple[Ate, ...]
    families: frozenset[Family]
    vapour_pressure_pa_20c: float | None
    entry: Harmonised | None
    own: tuple[str, ...]
    edition: str
    dated: str
    known: str
    source: str
    confidence: str

    @property
    def minimum(self) -> tuple[HazardClass, ...]:
        """The classes that are minimum classifications."""
        return tuple(hazard for hazard in self.classes if self.entry and hazard in self.entry.minimum)

    @property
    def in_words(self) -> str:
        """Its classes, a minimum classification marked."""
        marked = (f"{hazard} *" if hazard in self.minimum else str(hazard) for hazard in self.classes)
        return "; ".join([*marked, *self.euh]) or "not classified"

    @property
    def basis(self) -> str:
        """What the classes rest on."""
        if self.entry is None:
            return f"{self.edition} ({self.known}, {self.dated})"
        entry = self.entry
        return f"{entry.rules} list, entry {entry.index_number}, {entry.edition}, {entry.dated} ({entry.known})"

    @property
    def where_from(self) -> str:
        """Every source, the published list's first."""
        return "; ".join(filter(None, (self.entry.source if self.entry else "", self.source)))

    def is_called(self, words: str) -> bool:
        """Say whether its name, a short name or its number holds the words, in any case."""
        wanted = words.strip().casefold()
        return any(wanted in name.casefold() for name in (self.name, *self.short_names, self.cas))

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


def classes_above(listed: Iterable[HazardClass], stated: Sequence[HazardClass]) -> tuple[HazardClass, ...]:
    """Return the classes of a list that are not among those stated, nor covered by a stricter one.

    Parameters:
        listed: Classes of a list. [-]
        stated: Those of the SDS, a sequence. [-]
    Returns:
        The listed ones that go beyond what is stated. [-]
    """
    return tuple(hazard for hazard in listed if not any(_covers(own, hazard) for own in stated))


@cache
def _by_cas(rules: Rules) -> dict[str, Substance]:
    return {row["cas"]: _read(dict(row), rules) for row in read_table("substances")}


def all_substances(*, rules: Rules = Rules.GB) -> tuple[Substance, ...]:
    """Return every reference entry in file order.

    Parameters:
        rules: Whose list of harmonised entries. [-]
    Returns:
        The entries. [-]
    """
    return tuple(_by_cas(rules).values())


def substance(cas: str, *, rules: Rules = Rules.GB) -> Substance:
    """Return the reference entry of a CAS number.

    Parameters:
        cas: A CAS number as typed. [-]
        rules: Whose list of harmonised entries. [-]
    Returns:
        The entry. [-]
    Raises:
        BadCas: Not a CAS number.
        UnknownSubstance: No entry carries it.
    """
    number = check_cas(cas)
    try:
        return _by_cas(rules)[number]
    except KeyError:
        raise UnknownSubstance(number) from None


def find_substances(words: str) -> tuple[Substance, ...]:
    """Return the reference entries whose name, short name or CAS number holds the words.

    Parameters:
        words: Part of a name or number, in any case. [-]
    Returns:
        The matching entries in file order; none for blank words. [-]

    >>> [entry.cas for entry in find_substances("cd-4")]
    ['25646-77-9']
    """
    return tuple(entry for entry in all_substances() if entry.is_called(words)) if words.strip() else ()


def families_of(*, cas: str, name: str) -> frozenset[Family]:
    """Return the kinds of substance the rules single out, of an ingredient as entered.

    Parameters:
        cas: Its CAS number. [-]
        name: Its name; a compound of boron is known by it though its number is not on file. [-]
    Returns:
        Its families; empty where nothing is known. [-]
    Raises:
        BadCas: Not a CAS number.
    """
    try:
        return substance(cas).families
    except UnknownSubstance:
        return frozenset({Family.BORON} if _BORON.search(name.casefold()) else ())


def _read(row: dict[str, str], rules: Rules) -> Substance:
    entry = harmonised(row["cas"], rules=rules) or harmonised(row["cas"], rules=Rules.EU)
    own = items_of(row["own_classes"])
    own_limits = tuple(read_limit(text) for text in items_of(row["own_limits"]))
    factors = zip(read_m_factors(row["own_m_factors"]), entry.m_factors if entry else (None, None), strict=True)
    m_acute, m_chronic = (listed if listed is not None else notified for notified, listed in factors)
    return Substance(
        name=row["name"],
        short_names=items_of(row["short_names"]),
        cas=row["cas"],
        formula=row["formula"],
        molar_mass_g_mol=_figure(row["molar_mass_g_mol"]),
        classes=_stricter_of(
            entry.classes if entry else (), tuple(read_class(text) for text in own if not text.startswith("EUH"))
        ),
        euh=tuple(dict.fromkeys([*(entry.euh if entry else ()), *(text for text in own if text.startswith("EUH"))])),
        limits=(*(entry.limits if entry else ()), *own_limits),
        m_acute=m_acute,
        m_chronic=m_chronic,
        ates=(entry.ates if entry else ()) or read_ates(row["own_ates"]),
        families=frozenset(Family(text) for text in items_of(row["families"])),
        vapour_pressure_pa_20c=_figure(row["vapour_pressure_pa_20c"]),
        entry=entry,
        own=own,
        edition=row["edition"],
        dated=row["dated"],
        known=row["known"],
        source=row["source"],
        confidence=row["confidence"],
    )


def _stricter_of(listed: Sequence[HazardClass], own: Sequence[HazardClass]) -> tuple[HazardClass, ...]:
    """The published classes, each replaced where an own class of the same kind is stricter, then the other own ones."""
    kept = [
        next((each for each in own if _kind(each) == _kind(hazard) and _is_stricter(each, hazard)), hazard)
        for hazard in listed
    ]
    kinds = {_kind(hazard) for hazard in kept}
    return (*kept, *(hazard for hazard in own if _kind(hazard) not in kinds))


def _covers(own: HazardClass, listed: HazardClass) -> bool:
    if own.name in _COVERED_BY.get(listed.name, ()):
        return True
    return _kind(own) == _kind(listed) and not _is_stricter(listed, own)


def _kind(hazard: HazardClass) -> tuple[str, str]:
    """A class, its route or effect apart: acute toxicity by H30x, H31x, H33x; STOT SE 3 by its statement."""
    by_code = {"Acute Tox.": hazard.code[:3], "STOT SE": hazard.code if hazard.category == "3" else ""}
    return hazard.name, by_code.get(hazard.name, "")


def _is_stricter(hazard: HazardClass, other: HazardClass) -> bool:
    """Whether one class of a kind is more severe than another; a sensitiser without sub-category may be a 1B."""
    if hazard.name.endswith("Sens."):
        return _SENSITISERS.index(hazard.category) < _SENSITISERS.index(other.category)
    return severity_place(hazard) < severity_place(other)


def _figure(text: str) -> float | None:
    return float(text) if text else None
