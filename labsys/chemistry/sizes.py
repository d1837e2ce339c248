"""Sizes of film and paper, their areas in whole mm², and the load a piece of work puts on a bath."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from labsys.chemistry.errors import CalculationError, check_between

UNIT_EXACT_MM2 = Fraction(516128, 10)  # 80 in² at exactly 25.4 mm to the inch
UNIT_MM2 = 51_613  # the trade's unit of capacity in whole mm²: one roll, one 8x10 in sheet


class Material(StrEnum):
    """What takes up the solution: film, resin-coated paper, or fibre-base paper."""

    FILM = "film"
    RC = "rc"
    FIBRE = "fibre"


MATERIAL_NAMES = {Material.FILM: "film", Material.RC: "RC paper", Material.FIBRE: "fibre paper"}


class FilmFormat(StrEnum):
    """What a developing time is written for: the same film is not the same emulsion and base in each."""

    SMALL = "135"
    ROLL = "120 or 220"
    SHEET = "sheet film"


@dataclass(eq=False)
class UnknownSize(CalculationError):
    """No size has this key."""

    key: str

    def __str__(self) -> str:
        return f'"{self.key}" is not a size known here'


@dataclass(eq=False)
class WrongMaterial(CalculationError):
    """The size is not made in this material, such as a 120 on paper."""

    key: str
    material: Material

    def __str__(self) -> str:
        return f"{self.key} is not a size of {MATERIAL_NAMES[self.material]}"


@dataclass(frozen=True, slots=True)
class Size:
    """One size, with a key that never changes.

    `area_mm2` is what a piece counts for against the capacity of a bath. `surface_mm2` is what the piece measures.
    They differ for roll film only, which the trade counts as one 80 in² unit whatever the strip's exact length.
    `sides_mm` are those of a sheet; roll film has none.
    """

    key: str
    area_mm2: int
    surface_mm2: int
    is_film: bool
    is_paper: bool
    sides_mm: tuple[float, float] | None = None

    def is_made_in(self, material: Material) -> bool:
        """Return whether the size is made in a material.

        Parameters:
            material: Film, RC or fibre. [-]
        Returns:
            True where it is. [-]
        Source:
            Common practice, no source.
        """
        return self.is_film if material is Material.FILM else self.is_paper

    @property
    def film_format(self) -> FilmFormat:
        """The format of film that this size is."""
        if self.sides_mm is not None:
            return FilmFormat.SHEET
        return FilmFormat.SMALL if self.key.startswith("135") else FilmFormat.ROLL

    @property
    def units(self) -> Fraction:
        """Area it counts for in units of 80 in². [-]"""
        return Fraction(self.area_mm2, UNIT_MM2)


def _mm2(width: float, height: float) -> int:
    return round(width * height)


def _sheet(key: str, width_mm: float, height_mm: float, *, is_film: bool = False, is_paper: bool = True) -> Size:
    area = _mm2(width_mm, height_mm)
    return Size(key, area, area, is_film=is_film, is_paper=is_paper, sides_mm=(width_mm, height_mm))


def _inches(width: float, height: float, *, is_film: bool = False, is_paper: bool = True) -> Size:
    key = f"{width:g}x{height:g} in"
    return _sheet(key, width * 25.4, height * 25.4, is_film=is_film, is_paper=is_paper)


def _centimetres(width: int, height: int) -> Size:
    return _sheet(f"{width}x{height} cm", width * 10, height * 10)


# Roll film is counted as the trade counts it: S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 108, reckons in
# 80 in²; one 135-36, one 120 or half a 220 to the unit is common practice, no source. The strips: 35 mm by 1.615 m and
# 35 mm by 1.18 m (lengths from memory); 61 mm by 0.825 m (the middle of the 0.81 to 0.84 m in an encyclopaedia article
# on 120 film), a 220 "about double" that.
_SIZES = (
    Size("135-36", UNIT_MM2, _mm2(35, 1615), is_film=True, is_paper=False),
    Size("135-24", _mm2(35, 1180), _mm2(35, 1180), is_film=True, is_paper=False),
    Size("120", UNIT_MM2, _mm2(61, 825), is_film=True, is_paper=False),
    Size("220", 2 * UNIT_MM2, _mm2(61, 1650), is_film=True, is_paper=False),
    _inches(4, 5, is_film=True, is_paper=False),
    _inches(5, 7, is_film=True),
    _inches(8, 10, is_film=True),
    *(_inches(*sides) for sides in ((9.5, 12), (10, 12), (11, 14), (12, 16), (16, 20), (20, 24))),
    *(_centimetres(*sides) for sides in ((9, 13), (10, 15), (13, 18), (18, 24))),
    *(_centimetres(*sides) for sides in ((24, 30), (30, 40), (40, 50), (50, 60))),
    _sheet("A5", 148, 210),
    _sheet("A4", 210, 297),
    _sheet("A3", 297, 420),
)
SIZES = {size.key: size for size in _SIZES}


@dataclass(frozen=True, slots=True)
class Load:
    """What went, or would go, through a bath: area by material, and pieces for baths counted by the piece."""

    film_mm2: int = 0
    rc_mm2: int = 0
    fibre_mm2: int = 0
    pieces: int = 0

    def __post_init__(self) -> None:
        for name in ("film_mm2", "rc_mm2", "fibre_mm2", "pieces"):
            check_between(name, getattr(self, name), 0, None, "mm²" if name.endswith("mm2") else "-")

    def __add__(self, other: "Load") -> "Load":
        return Load(
            film_mm2=self.film_mm2 + other.film_mm2,
            rc_mm2=self.rc_mm2 + other.rc_mm2,
            fibre_mm2=self.fibre_mm2 + other.fibre_mm2,
            pieces=self.pieces + other.pieces,
        )

    def area_mm2(self, material: Material) -> int:
        """Return the area of one material.

        Parameters:
            material: Film, RC or fibre. [-]
        Returns:
            Area. [mm²]
        Source:
            Definition.
        """
        return {Material.FILM: self.film_mm2, Material.RC: self.rc_mm2, Material.FIBRE: self.fibre_mm2}[material]

    @property
    def paper_mm2(self) -> int:
        """Area of RC and fibre paper together. [mm²]"""
        return self.rc_mm2 + self.fibre_mm2

    @property
    def is_nothing(self) -> bool:
        """Whether nothing at all went through."""
        return self == NOTHING


NOTHING = Load()


def size_of(*, key: str) -> Size:
    """Return the size with a key.

    Parameters:
        key: Such as "135-36", "120", "8x10 in", "18x24 cm" or "A4". [-]
    Returns:
        The size. [-]
    Raises:
        UnknownSize: No size has this key.
    Source:
        Areas calculated from nominal dimensions, 25.4 mm to the inch; A sizes by ISO 216 (from memory); roll film
        counted as the trade counts it, see the table.

    >>> size_of(key="8x10 in").area_mm2
    51613
    """
    if key not in SIZES:
        raise UnknownSize(key)
    return SIZES[key]


def check_material(*, size: Size, material: Material) -> None:
    """Raise WrongMaterial unless the size is made in this material.

    Parameters:
        size: The size. [-]
        material: The material of the bath or of the work. [-]
    Returns:
        Nothing. [-]
    Raises:
        WrongMaterial: For a 120 on paper, or an A4 of film.
    Source:
        Common practice, no source.
    """
    if not size.is_made_in(material):
        raise WrongMaterial(size.key, material)


def load_of(*, size: Size, material: Material, count: int) -> Load:
    """Return the load that a number of pieces put on a bath.

    Parameters:
        size: Size of the pieces. [-]
        material: What they are made of. [-]
        count: How many, 0 to 100 000. [-]
    Returns:
        Area under the material, and the pieces. [mm², -]
    Raises:
        WrongMaterial: The size is not made in this material.
        OutOfRange: The count is out of range.
    Source:
        Area times count.

    >>> load_of(size=size_of(key="120"), material=Material.FILM, count=5)
    Load(film_mm2=258065, rc_mm2=0, fibre_mm2=0, pieces=5)
    """
    check_material(size=size, material=material)
    check_between("count", count, 0, 100_000)
    area = size.area_mm2 * count
    match material:
        case Material.FILM:
            return Load(film_mm2=area, pieces=count)
        case Material.RC:
            return Load(rc_mm2=area, pieces=count)
        case Material.FIBRE:
            return Load(fibre_mm2=area, pieces=count)


def area_of_units_mm2(*, units: Fraction | int) -> int:
    """Turn a capacity stated in rolls or 8x10 in sheets into an area.

    Uses the whole-mm² unit, so that 20 rolls to the litre take exactly 20 rolls of 135-36 or 120.

    Parameters:
        units: Number of 80 in² units, 0 or more. [-]
    Returns:
        Area to the nearest whole mm². [mm²]
    Raises:
        OutOfRange: Fewer than none.
    Source:
        80 in² = 516.128 cm², by definition of the inch; S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008,
        p. 108, counts in this unit.

    >>> area_of_units_mm2(units=20)
    1032260
    """
    check_between("units", units, 0, None)
    return round(units * UNIT_MM2)


@dataclass(frozen=True, slots=True)
class Pieces:
    """So many pieces of one size in one material."""

    size: Size
    material: Material
    count: int
