"""Very dilute developers: enough liquid to cover the film may still hold too little developer to develop it."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from labsys.chemistry.dilution import LARGEST_ML, Dilution, Parts, split
from labsys.chemistry.errors import CalculationError, Number, check_above, check_between


class Forced(StrEnum):
    """What the least concentrate per film made of the fill that was asked for."""

    NOTHING = "nothing"
    LARGER_VOLUME = "larger_volume"
    FEWER_FILMS = "fewer_films"


@dataclass(eq=False)
class TankTooSmall(CalculationError):
    """Not even one film gets its least concentrate in this tank at this dilution."""

    needed_ml: Fraction
    tank_ml: Fraction

    def __str__(self) -> str:
        return (
            f"one film needs {float(self.needed_ml):g} mL at this dilution and the tank holds {float(self.tank_ml):g} "
            "mL; use a larger tank or a stronger dilution"
        )


@dataclass(frozen=True, slots=True)
class FilmFill:
    """How many films go in at once, and what to mix for them."""

    films: int
    films_asked: int
    parts: Parts
    forced: Forced

    @property
    def reason(self) -> str:
        """One sentence a person can act on."""
        volume = f"{float(self.parts.working_ml):g} mL"
        match self.forced:
            case Forced.NOTHING:
                return f"{volume} holds enough concentrate for the film."
            case Forced.LARGER_VOLUME:
                return f"Mix {volume}: a smaller fill holds too little concentrate for the film."
            case Forced.FEWER_FILMS:
                return (
                    f"Develop {self.films} of {self.films_asked} films at once: the largest fill, {volume}, holds too "
                    "little concentrate for more."
                )


def fill_for_films(
    *, dilution: Dilution, films: int, least_concentrate_ml: Number, fill_ml: Number, largest_ml: Number
) -> FilmFill:
    """Work out the fill for a number of films when each needs a least amount of concentrate.

    volume = max(fill, films * least * (N+1)). Where that passes what the tank holds, the number of films that the
    full tank can feed is returned instead, and `forced` says so.

    Parameters:
        dilution: How the developer is diluted. [-]
        films: Films to develop at once, 1 to 1000. [-]
        least_concentrate_ml: Concentrate each film needs, 0 or more, at most 1000; the maker's sheet governs. [mL]
        fill_ml: Volume that covers the film, above 0. [mL]
        largest_ml: Volume the tank holds at most, not less than `fill_ml`. [mL]
    Returns:
        Films, parts and what was forced. [mL]
    Raises:
        OutOfRange: A value is out of range.
        TankTooSmall: Not even one film gets its least concentrate.
    Source:
        Arithmetic; that a least amount exists is common practice, no source.

    >>> fill = fill_for_films(
    ...     dilution=Dilution(50), films=2, least_concentrate_ml=6, fill_ml=500, largest_ml=1000
    ... )
    >>> fill.reason
    'Mix 612 mL: a smaller fill holds too little concentrate for the film.'
    """
    check_between("films", films, 1, 1000)
    check_between("least_concentrate_ml", least_concentrate_ml, 0, 1000, "mL")
    check_above("fill_ml", fill_ml, 0, LARGEST_ML, "mL")
    check_between("largest_ml", largest_ml, fill_ml, LARGEST_ML, "mL")
    cover, largest = Fraction(fill_ml), Fraction(largest_ml)
    per_film = Fraction(least_concentrate_ml) * dilution.total_parts
    needed = max(cover, films * per_film)
    if needed > largest:
        fed = int(largest / per_film)
        if fed == 0:
            raise TankTooSmall(per_film, largest)
        return FilmFill(fed, films, split(dilution=dilution, working_ml=largest), Forced.FEWER_FILMS)
    forced = Forced.LARGER_VOLUME if needed > cover else Forced.NOTHING
    return FilmFill(films, films, split(dilution=dilution, working_ml=needed), forced)


def weakest_dilution(*, films: int, least_concentrate_ml: Number, working_ml: Number) -> Dilution:
    """Return the weakest dilution that still gives every film its least concentrate in a fixed volume.

    N = V / (films * least) - 1.

    Parameters:
        films: Films developed at once, 1 to 1000. [-]
        least_concentrate_ml: Concentrate each film needs, above 0, at most 1000. [mL]
        working_ml: Volume of working solution, at least films times least concentrate. [mL]
    Returns:
        The dilution, exact. [-]
    Raises:
        OutOfRange: A value is out of range, the volume is too small for even undiluted concentrate, or the answer has
            more than 1000 parts of water.
    Source:
        Arithmetic; inverse of `fill_for_films`.

    >>> round(float(weakest_dilution(films=2, least_concentrate_ml=6, working_ml=500).water_parts), 2)
    40.67
    """
    check_between("films", films, 1, 1000)
    check_above("least_concentrate_ml", least_concentrate_ml, 0, 1000, "mL")
    needed = films * Fraction(least_concentrate_ml)
    check_between("working_ml", working_ml, needed, LARGEST_ML, "mL")
    return Dilution(Fraction(working_ml) / needed - 1)
