"""Silver in used fixer: always an estimate with a range, never a measurement."""

from labsys.chemistry.errors import check_above, check_between
from labsys.chemistry.ranges import Range
from labsys.chemistry.sizes import Load

# Working values with their ranges. Film: 1.6 to 3.2 g/m² (common practice, no source), plates 3.6 to 7.2 g/m² (L. P.
# Clerc, Photography: Theory and Practice, par. 412), negatives 3 to 10 g/m², X-ray film 10 g/m² (a German handbook of
# X-ray work, c. 1940, goobi.tib.eu 1686551908, p. 340). Paper: 0.5 to 1.6 g/m² (common practice, no source), 2 to
# 3 g/m² (the same handbook). Part dissolved: three quarters (Clerc, par. 412), half to 80 % (common practice, no
# source). The middle values are house choices inside those figures.
FILM_G_PER_M2 = Range(2.0, 4.0, 10.0)
PAPER_G_PER_M2 = Range(0.5, 1.5, 3.0)
PART_DISSOLVED = Range(0.5, 0.75, 0.8)

_FARADAY_C_PER_MOL = 96485.33212  # 2019 SI
_SILVER_G_PER_MOL = 107.8682  # IUPAC standard atomic weights 2021, as the next
_IRON_G_PER_MOL = 55.845


def silver_into_fixer_g(
    *, load: Load, film: Range = FILM_G_PER_M2, paper: Range = PAPER_G_PER_M2, dissolved: Range = PART_DISSOLVED
) -> Range:
    """Estimate the silver that film and paper left in a fixer.

    grams = coating weight * part dissolved * area, low with low and high with high.

    Parameters:
        load: Area that went through, by material. [mm²]
        film: Silver in film. [g/m²]
        paper: Silver in paper, RC and fibre alike. [g/m²]
        dissolved: Part that is not used in the image and reaches the fixer, at most 1. [-]
    Returns:
        Low, typical and high mass of metallic silver. [g]
    Raises:
        OutOfRange: More than all of the silver dissolved.
    Source:
        L. P. Clerc, Photography: Theory and Practice, par. 412 (three quarters reach the fixer; plates); a German
        handbook of X-ray work, c. 1940, goobi.tib.eu 1686551908, p. 340 (most in film and paper); the least in either:
        common practice, no source. The middle values are a house choice inside the ranges.

    >>> one_roll = silver_into_fixer_g(load=Load(film_mm2=51_613))
    >>> round(one_roll.low, 3), round(one_roll.typical, 3), round(one_roll.high, 3)
    (0.052, 0.155, 0.413)
    """
    check_between("dissolved", dissolved.high, 0, 1)
    return (film.times(load.film_mm2 / 1e6) + paper.times(load.paper_mm2 / 1e6)).times_range(dissolved)


def silver_concentration_g_per_l(*, silver_g: Range, bath_ml: float) -> Range:
    """Return the concentration of silver in a bath; what is carried out on film is left in, on the high side.

    Parameters:
        silver_g: Mass of silver in the bath. [g]
        bath_ml: Volume of the bath, a scalar above 0. [mL]
    Returns:
        Low, typical and high concentration. [g/L]
    Raises:
        OutOfRange: The volume is out of range.
    Source:
        Mass divided by volume.

    >>> twenty_rolls = silver_into_fixer_g(load=Load(film_mm2=20 * 51_613))
    >>> round(silver_concentration_g_per_l(silver_g=twenty_rolls, bath_ml=1000).typical, 1)
    3.1
    """
    check_above("bath_ml", bath_ml, 0, None, "mL")
    return silver_g.divided_by(bath_ml / 1000)


def recovered_share(*, yields: tuple[float, ...]) -> float:
    """Return the share of silver removed by recovery steps one after the other, 1 - product of (1 - y).

    Parameters:
        yields: Share each step removes of what reaches it, 0 to 1. [-]
    Returns:
        Share removed in all. [-]
    Raises:
        OutOfRange: A yield is outside 0 to 1.
    Source:
        Mass balance.

    >>> round(recovered_share(yields=(0.90, 0.95)), 4)
    0.995
    """
    left = 1.0
    for share in yields:
        check_between("yields", share, 0, 1)
        left *= 1 - share
    return 1 - left


def silver_by_electrolysis_g(*, ampere_hours: float, current_efficiency: float = 1.0) -> float:
    """Return the silver plated out by a charge, m = I*t*M/F.

    Parameters:
        ampere_hours: Charge passed, 0 or more. [A h]
        current_efficiency: Part of the current that plates silver, 0 to 1. [-]
    Returns:
        Mass of silver. [g]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Faraday's law; constants of the 2019 SI and IUPAC atomic weights 2021.

    >>> round(silver_by_electrolysis_g(ampere_hours=1), 3)
    4.025
    """
    check_between("ampere_hours", ampere_hours, 0, None, "A h")
    check_between("current_efficiency", current_efficiency, 0, 1)
    return ampere_hours * 3600 * current_efficiency * _SILVER_G_PER_MOL / _FARADAY_C_PER_MOL


def silver_by_iron_g(*, iron_g: float) -> float:
    """Return the silver that iron can replace, 2 Ag+ + Fe -> 2 Ag + Fe2+.

    Parameters:
        iron_g: Mass of iron dissolved, 0 or more. [g]
    Returns:
        Mass of silver at most. [g]
    Raises:
        OutOfRange: A negative mass.
    Source:
        Stoichiometry, IUPAC atomic weights 2021.

    >>> round(silver_by_iron_g(iron_g=1), 2)
    3.86
    """
    check_between("iron_g", iron_g, 0, None, "g")
    return iron_g * 2 * _SILVER_G_PER_MOL / _IRON_G_PER_MOL
