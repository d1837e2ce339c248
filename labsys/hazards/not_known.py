"""What stays open about a solution because nobody stated it: told on page and label, never taken as harmless."""

from collections.abc import Iterator, Sequence

from .classes import Family
from .disagreement import Disagreement
from .mixtures import Classification, Ingredient
from .mixtures.acute import UNKNOWN_PART
from .working_ph import AS_IF_IT_WERE, MEASURE_IT, WorkingPh

NO_INGREDIENTS = "No ingredients are entered, so nothing could be worked out: go by the SDS."
_UNEXPLAINED = "Declared, but not known of this dilution: {harms}."
_FLAMMABLE_TO_CELSIUS = 60.0  # CLP Annex I Table 2.6.1, from memory
_ACETIC_ACID, _ACETIC_TO_PERCENT = "64-19-7", 25.0


def open_points_of(
    classification: Classification,
    ingredients: Sequence[Ingredient],
    *,
    ph: WorkingPh | None,
    flash_point_celsius: float | None,
) -> tuple[str, ...]:
    """Return what is open about a solution, those first that bear on skin, eyes and poisoning.

    Parameters:
        classification: What was calculated; its own open points come last. [-]
        ingredients: At their content in the solution, a sequence. [-]
        ph: What is known of its pH, or None. [-]
        flash_point_celsius: Of the product it is made from where that is not its own, or None. [°C]
    Returns:
        Sentences, each once. [-]
    """
    points = (
        *_of_ph(classification, ingredients, ph),
        *_of_ingredients(ingredients),
        *_of_flash_point(ingredients, flash_point_celsius),
        *classification.open_points,
    )
    return tuple(dict.fromkeys(points))


def unexplained_points(rows: Sequence[Disagreement]) -> tuple[str, ...]:
    """Return what is open about a dilution because nothing entered explains what is declared of the product.

    Parameters:
        rows: What is declared and not calculated, a sequence. [-]
    Returns:
        One sentence or none. [-]
    """
    if not rows:
        return ()
    return (_UNEXPLAINED.format(harms=", ".join(row.harm.lower() for row in rows)),)


def is_of_health(row: Disagreement) -> bool:
    """Return whether what is declared harms a person, by the hundreds of its code: H3xx of CLP Annex III.

    Parameters:
        row: What is declared. [-]
    Returns:
        False for fire, pressure and the environment. [-]
    """
    return row.declared.startswith("H3")


def may_be_extreme(classification: Classification, ingredients: Sequence[Ingredient], *, ph: WorkingPh | None) -> bool:
    """Return whether nobody knows that the pH of a solution is not extreme, and nothing else says that it burns.

    Parameters:
        classification: What was calculated. [-]
        ingredients: At their content in the solution, a sequence. [-]
        ph: What is known of its pH, or None. [-]
    Returns:
        True where a stated pH leaves it open; without one, where something strong enough is in it. [-]
    """
    return any(AS_IF_IT_WERE in point for point in _of_ph(classification, ingredients, ph))


def _of_ph(classification: Classification, ingredients: Sequence[Ingredient], ph: WorkingPh | None) -> Iterator[str]:
    if any(hazard.name == "Skin Corr." for hazard in classification.classes):
        return  # no pH could make it worse
    if ph is not None:
        yield from filter(None, [ph.open_point])
        return
    deciding = [i.name for i in ingredients if i.high_percent > 0 and _can_make_extreme(i)]
    if deciding:
        is_strong = any(i.high_percent > 0 and _is_strong(i) for i in ingredients)
        point = f"No pH is stated, and it contains {', '.join(deciding)}. {MEASURE_IT}"
        yield f"{point} {AS_IF_IT_WERE}" if is_strong else point


def _can_make_extreme(ingredient: Ingredient) -> bool:
    return bool(ingredient.families & {Family.ACID, Family.BASE}) or ingredient.has("Skin Corr.")


def _is_strong(ingredient: Ingredient) -> bool:
    """Whether it burns skin undiluted, so that a little may make a pH extreme.

    Acetic acid is weak: at 25 %, 4.3 mol/L, it comes to pH ½ (4.76 - log 4.3) = 2.1, its constant from memory.
    """
    return ingredient.has("Skin Corr.") and not (
        ingredient.cas == _ACETIC_ACID and ingredient.high_percent < _ACETIC_TO_PERCENT
    )


def _of_ingredients(ingredients: Sequence[Ingredient]) -> Iterator[str]:
    if not ingredients:
        yield NO_INGREDIENTS
    for ingredient in ingredients:
        if ingredient.is_by_list:
            yield f"What {ingredient.name} can do is not entered: taken from the reference list, compare the SDS."
        if ingredient.unknown_toxicity and ingredient.high_percent > 0 and ingredient.name != UNKNOWN_PART:
            content = f"{ingredient.high_percent:.2g} %"
            yield f"What {ingredient.name} can do is not stated, and there is up to {content} of it: ask the supplier."


def _of_flash_point(ingredients: Sequence[Ingredient], flash_point_celsius: float | None) -> Iterator[str]:
    if flash_point_celsius is None or flash_point_celsius > _FLAMMABLE_TO_CELSIUS:
        return
    if not any(i.has("Flam. Liq.") for i in ingredients):  # each of those has a point of its own
        yield f"The product's flash point is {flash_point_celsius:g} °C; that of this dilution is not known."
