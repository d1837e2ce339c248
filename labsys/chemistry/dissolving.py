"""How much of a chemical dissolves, and in which order: what a formula must not ask for."""

from collections.abc import Iterator, Sequence

from labsys.chemistry.errors import check_above
from labsys.chemistry.formulae import Formula, Ingredient, Unit
from labsys.chemistry.salts import plain_name, read_crystal

# Grams that 100 mL of water at 20 °C take up, of salts without their water of crystallisation; rounded, all from
# memory of chemical handbooks. A longer name stands before a shorter one that it contains.
DISSOLVES_G_PER_100_ML = {
    "sodium thiosulfate": 70.0,
    "sodium metabisulfite": 60.0,
    "potassium metabisulfite": 45.0,
    "sodium carbonate": 21.5,
    "sodium sulfite": 26.0,
    "sodium sulfate": 19.5,
    "sodium sulfide": 18.6,
    "sodium metaborate": 24.0,
    "borax": 2.6,
    "citric acid": 145.0,
    "boric acid": 4.9,
    "potassium alum": 5.9,
    "potassium bromide": 65.0,
    "potassium carbonate": 110.0,
    "potassium ferricyanide": 43.0,
    "silver nitrate": 215.0,
    "hydroquinone": 6.0,
    "metol": 4.5,
    "phenidone": 1.0,
    "ascorbic acid": 33.0,
}
HARDLY_SHARE = 0.7  # what is nearer to the limit dissolves slowly and comes out in a cold room: common practice
_ACIDS = ("acetic acid", "sulfuric acid", "hydrochloric acid", "citric acid", "alum")


def most_dissolved_percent(*, name: str) -> float | None:
    """Return the strongest solution of a chemical that stays clear at 20 °C, None where that is not on file.

    Parameters:
        name: As somebody wrote it; the water of crystallisation it names is counted in. [-]
    Returns:
        Grams of it that 100 mL of water take up. [%]
    Raises:
        NoSuchHydrate: A salt with a water of crystallisation that is not listed.
    Source:
        Chemical handbooks, from memory.

    >>> round(most_dissolved_percent(name="sodium carbonate, decahydrate"))
    58
    """
    plain = plain_name(name)
    crystal = read_crystal(name)
    if crystal is not None:
        bare = DISSOLVES_G_PER_100_ML.get(crystal.salt.name)
        if bare is None or not crystal.waters:
            return bare
        salt = crystal.salt
        return bare * salt.grams_per_mole(waters=crystal.waters) / salt.grams_per_mole(waters=0)
    return next((percent for known, percent in DISSOLVES_G_PER_100_ML.items() if known in plain), None)


def dissolved_share(*, name: str, grams: float, volume_ml: float) -> float | None:
    """Return how far an amount goes towards what dissolves in a volume, above 1 where some stays undissolved.

    Parameters:
        name: The chemical. [-]
        grams: Its amount, above 0. [g]
        volume_ml: The volume, all of it counted as water, above 0. [mL]
    Returns:
        The share, None where it is not on file how much dissolves. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        `most_dissolved_percent`; other substances in the water leave room for less.
    """
    check_above("grams", grams, 0, None, "g")
    check_above("volume_ml", volume_ml, 0, None, "mL")
    most = most_dissolved_percent(name=name)
    return None if most is None else grams / volume_ml * 100 / most


def order_faults(ingredients: Sequence[Ingredient]) -> Iterator[str]:
    """Yield what is wrong with the order in which a formula is to be mixed.

    Parameters:
        ingredients: In mixing order. [-]
    Returns:
        Sentences. [-]
    Source:
        Thiosulfate first, and no acid to thiosulfate without sulfite: S. Anchell, The Darkroom Cookbook, 3rd ed. 2008,
        pp. 268 and 171. Metol before sulfite: a plate and paper maker's photographic handbook (c. 1930), p. 24.

    >>> list(order_faults([Ingredient("acetic acid 28 %", 48, Unit.MILLILITRE), Ingredient("hypo", 240)]))[0]
    'Start from the thiosulfate: it goes in before everything else.'
    """
    names = [plain_name(line.name).replace("hypo", "thiosulfate") for line in ingredients]
    fixer = _first(names, ("thiosulfate",))
    sulfite = _first(names, ("sulfite",))
    acid = _first(names, _ACIDS)
    metol = _first(names, ("metol",))
    if fixer:
        yield "Start from the thiosulfate: it goes in before everything else."
    if fixer is not None and acid is not None and (sulfite is None or acid < sulfite):
        yield (
            "Acid or alum on thiosulfate without sulfite throws down sulfur and gives off sulfur dioxide: "
            "dissolve sulfite before the acid goes in."
        )
    if metol is not None and sulfite is not None and sulfite < metol:
        yield "Metol goes in before the sulfite: afterwards it hardly dissolves."


def _first(names: Sequence[str], wanted: Sequence[str]) -> int | None:
    return next((nth for nth, name in enumerate(names) if any(word in name for word in wanted)), None)


def faults_of(formula: Formula) -> Iterator[str]:
    """Yield why a formula cannot be made as it stands: no room for water, or more than dissolves.

    Parameters:
        formula: For the volume it makes. [g, mL]
    Returns:
        Sentences. [-]
    Raises:
        NoSuchHydrate: A salt with a water of crystallisation that is not listed.
    Source:
        Sum of the volumes; `dissolved_share`.
    """
    if formula.room_ml <= 0:
        yield "Liquids and solids alone take more room than the whole volume. Check the amounts."
    for line in formula.ingredients:
        if line.unit is Unit.GRAM:
            share = dissolved_share(name=line.name, grams=line.amount, volume_ml=formula.makes_ml)
            if share is not None and share > 1:
                yield (
                    f"{line.name}: at 20 °C only about {line.amount / share:.3g} g of {line.amount:.4g} g dissolve. "
                    "Check the amount."
                )
