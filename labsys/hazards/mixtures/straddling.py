"""Figures that lie so close to a limit that their own error decides: an outcome of its own, said as such.

A range in a supplier's sheet is taken at its upper end. One as narrow as a measurement's error, such as 0.97 ± 0.05 %
against a limit of 1 %, is said to lie on the limit as well; the stricter side stands. Our own rule.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

from .model import Ingredient

_ERROR_AT_MOST = 0.15  # of the middle of a range: a wider one is a supplier's range, not a measurement's error
_HALVINGS = 40

OutcomeOf = Callable[[Sequence[Ingredient]], Collection[str]]


def on_the_limit(ingredients: Sequence[Ingredient], *, outcome_of: OutcomeOf) -> tuple[str, ...]:
    """Say which results hang on the error of a figure.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        outcome_of: What a mixture of them comes to: classes and statements. [-]
    Returns:
        A sentence for each such result. [-]
    """
    measured = [i for i in ingredients if _is_measured(i)]
    if not measured:
        return ()
    least = set(outcome_of([_at_least(i) if i in measured else i for i in ingredients]))
    hanging = [result for result in outcome_of(ingredients) if result not in least]
    return tuple(_sentence(result, measured, ingredients, outcome_of) for result in hanging)


def _is_measured(ingredient: Ingredient) -> bool:
    low, high = ingredient.low_percent, ingredient.high_percent
    return low is not None and 0 < high - low <= _ERROR_AT_MOST * (low + high)


def _at_least(ingredient: Ingredient) -> Ingredient:
    assert ingredient.low_percent is not None  # noqa: S101 - only measured ones come here
    return replace(ingredient, high_percent=ingredient.low_percent, low_percent=None)


def _sentence(
    result: str, measured: Sequence[Ingredient], ingredients: Sequence[Ingredient], outcome_of: OutcomeOf
) -> str:
    def has_result(ingredient: Ingredient, percent: float) -> bool:
        changed = replace(ingredient, high_percent=percent, low_percent=None)
        return result in outcome_of([changed if each is ingredient else each for each in ingredients])

    alone = [i for i in measured if not has_result(i, i.low_percent or 0)]
    told = [f"{_figure(i)} against {_limit(i, has_result):.3g} %" for i in alone]
    words = " and ".join(told) or " and ".join(_figure(i) for i in measured) + " together"
    return (
        f"On the limit: {result} hangs on {words}. Within the error of that figure it may fall on either side; "
        "it stands until a closer figure is known."
    )


def _figure(ingredient: Ingredient) -> str:
    low, high = ingredient.low_percent or 0, ingredient.high_percent
    return f"{ingredient.name} {(low + high) / 2:.3g} ± {(high - low) / 2:.2g} %"


def _limit(ingredient: Ingredient, has_result: Callable[[Ingredient, float], bool]) -> float:
    """The content from which the result is there, the other ingredients as they are: by halving."""
    low, high = ingredient.low_percent or 0, ingredient.high_percent
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if has_result(ingredient, middle) else (middle, high)
    return high
