"""Solution carried from bath to bath on film and paper: what leaves a bath, and what it does to the next."""

from labsys.chemistry.errors import check_between
from labsys.chemistry.ranges import Range
from labsys.chemistry.sizes import UNIT_EXACT_MM2, Load

# Film, low: a squeegee cuts carry-over by about half. Typical: 4 mL on a 135-36 of 0.056 m² (M. Torzynski, note on
# film-washing arithmetic, Strasbourg 2004). High: 20 mL per 80 in² in rack-and-tank work. Squeegee, rack and paper:
# common practice, no source.
FILM_ML_PER_M2 = Range(4 / 0.056 / 2, 4 / 0.056, 20 / (float(UNIT_EXACT_MM2) / 1e6))
RC_ML_PER_M2 = Range(30.0, 45.0, 60.0)
FIBRE_ML_PER_M2 = Range(200.0, 300.0, 400.0)
DRAINED_TANK_ML = 6.0  # a drained 500 mL tank keeps about this much (M. Torzynski, as above)


def carried_out_ml(*, load: Load, tanks_drained: int = 0) -> Range:
    """Estimate the solution carried out of a bath on film and paper, and left in drained tanks.

    Sheets and films are taken as drained, about 15 s for prints. Weigh a sheet dry and drained for a figure of your
    own: no published figure was found for paper.

    Parameters:
        load: Area that went through, by material. [mm²]
        tanks_drained: Times an inversion tank was emptied of the bath, 0 or more. [-]
    Returns:
        Low, typical and high volume. [mL]
    Raises:
        OutOfRange: A negative number of tanks.
    Source:
        Film and tank: M. Torzynski, note on film-washing arithmetic, Strasbourg 2004. Film, low and high, and paper:
        common practice, no source.

    >>> round(carried_out_ml(load=Load(film_mm2=56_000), tanks_drained=1).typical, 1)
    10.0
    """
    check_between("tanks_drained", tanks_drained, 0, None)
    film = FILM_ML_PER_M2.times(load.film_mm2 / 1e6)
    rc = RC_ML_PER_M2.times(load.rc_mm2 / 1e6)
    fibre = FIBRE_ML_PER_M2.times(load.fibre_mm2 / 1e6)
    kept = DRAINED_TANK_ML * tanks_drained
    return film + rc + fibre + Range(kept, kept, kept)
