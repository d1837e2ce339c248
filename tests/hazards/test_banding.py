"""Control banding against the printed matrix, the predictions behind it, and worked tasks."""

from itertools import product

import pytest

from labsys.hazards.banding import (
    Amount,
    HazardGroup,
    Spread,
    amount_of_liquid,
    amount_of_solid,
    control_approach,
    hazard_band,
    volatility_from_pressure,
)
from labsys.hazards.errors import OutOfRange, UnknownStatement

GROUPS = [  # HSE technical basis, from memory; H318 in C as its predecessor R41
    (["H319"], "A", True),
    (["H336", "EUH066"], "A", True),
    (["H304"], "A", False),
    (["H412"], "A", False),
    ([], "A", False),
    (["H302"], "B", False),
    (["H312"], "B", True),
    (["H302+H332"], "B", False),
    (["H314"], "C", True),
    (["H317"], "C", True),
    (["H318"], "C", True),
    (["H335"], "C", False),
    (["H373"], "C", False),
    (["H351"], "D", False),
    (["H360FD"], "D", False),
    (["H361d"], "D", False),
    (["H310"], "D", True),
    (["H372"], "D", False),
    (["H341"], "E", False),
    (["H350i"], "E", False),
    (["H334"], "E", False),
    (["H302", "H317", "H318", "H341", "H351"], "E", True),
]


@pytest.mark.parametrize(("codes", "group", "skin"), GROUPS)
def test_the_worst_statement_sets_the_group(codes, group, skin):
    found = hazard_band(codes)
    assert (found.group, found.skin_and_eyes) == (group, skin)


def test_a_group_says_what_decided_it():
    assert hazard_band(["H302", "H317", "H341"]).deciding == ("H341",)


def test_an_unknown_code_is_refused():
    with pytest.raises(UnknownStatement):
        hazard_band(["H999"])


@pytest.mark.parametrize(
    ("pascal", "spread"),
    [
        (0, "low vapour"),
        (499, "low vapour"),
        (500, "medium vapour"),
        (25_000, "medium vapour"),
        (25_001, "high vapour"),
    ],
)
def test_volatility_follows_vapour_pressure(pascal, spread):
    """HSE technical basis, from memory: 0.5 and 25 kPa."""
    assert volatility_from_pressure(vapour_pressure_pa=pascal) == spread


def test_amounts_are_grams_kilograms_tonnes_and_millilitres_litres_cubic_metres():
    """HSG193, from memory."""
    assert [amount_of_solid(grams=g) for g in (0, 999, 1000, 999_999, 1_000_000)] == [
        Amount.SMALL, Amount.SMALL, Amount.MEDIUM, Amount.MEDIUM, Amount.LARGE,
    ]  # fmt: skip
    assert [amount_of_liquid(total_ml=ml) for ml in (999, 1000, 1_000_000)] == list(Amount)
    for refused in (lambda: amount_of_solid(grams=-1), lambda: amount_of_liquid(total_ml=-1)):
        with pytest.raises(OutOfRange):
            refused()


def test_a_negative_pressure_is_refused():
    with pytest.raises(OutOfRange):
        volatility_from_pressure(vapour_pressure_pa=-1)


# HSE technical basis, exposure predictions, from memory. Predicted levels lie a power of ten apart and are counted as
# steps; each stronger control lowers the level by one step.
S, M, L = Amount
SOLID_STEP = {
    Spread.LOW_DUST: {S: 1, M: 2, L: 2},
    Spread.MEDIUM_DUST: {S: 1, M: 3, L: 4},
    Spread.HIGH_DUST: {S: 2, M: 3, L: 4},
}
LIQUID_STEP = {
    Spread.LOW_VAPOUR: {S: 1, M: 2, L: 2},
    Spread.MEDIUM_VAPOUR: {S: 2, M: 3, L: 3},
    Spread.HIGH_VAPOUR: {S: 2, M: 3, L: 4},
}
TARGET_STEP = {HazardGroup.A: 3, HazardGroup.B: 2, HazardGroup.C: 1, HazardGroup.D: 0}
SAME_COLUMN = {  # the printed matrix has one column for low and one for high, dust and vapour alike
    Spread.LOW_DUST: Spread.LOW_VAPOUR,
    Spread.LOW_VAPOUR: Spread.LOW_DUST,
    Spread.HIGH_DUST: Spread.HIGH_VAPOUR,
    Spread.HIGH_VAPOUR: Spread.HIGH_DUST,
}
STRICTER = {  # where the printed matrix asks for one step more than its own predictions
    (HazardGroup.A, M, Spread.HIGH_DUST),
    (HazardGroup.A, M, Spread.HIGH_VAPOUR),
    (HazardGroup.C, L, Spread.MEDIUM_VAPOUR),
}


def predicted(group, amount, spread):
    """Return the least control that brings the predicted level down to the group's target range."""
    step = (SOLID_STEP | LIQUID_STEP)[spread][amount]
    return min(max(step - TARGET_STEP[group], 0) + 1, 4)


@pytest.mark.parametrize(("group", "amount", "spread"), list(product(TARGET_STEP, Amount, Spread)))
def test_the_matrix_follows_from_its_exposure_predictions(group, amount, spread):
    """Source: HSE technical basis, from memory; two printed cells are stricter than the predictions."""
    number = control_approach(band=band_of(group), amount=amount, spread=spread).number
    column = {spread, SAME_COLUMN.get(spread, spread)}
    extra = 1 if (group, amount, spread) in STRICTER else 0
    assert number == max(predicted(group, amount, member) for member in column) + extra


def band_of(group):
    codes = {"A": "H336", "B": "H302", "C": "H335", "D": "H351", "E": "H350"}
    return hazard_band([codes[group]])


@pytest.mark.parametrize(("amount", "spread"), list(product(Amount, Spread)))
def test_group_e_is_always_special(amount, spread):
    found = control_approach(band=band_of("E"), amount=amount, spread=spread)
    assert (found.number, found.skin_and_eyes) == (4, False)
    assert "substitute" in found.words


TASKS = [  # calculated from the matrix
    ("weighing 20 g hydroquinone", ["H302", "H317", "H318", "H341", "H351"], "small", Spread.HIGH_DUST, 4, True),
    ("pouring 500 mL of 28 % acetic acid", ["H314"], "small", Spread.MEDIUM_VAPOUR, 2, True),
    ("5 L tray of 2 % acetic acid", [], "medium", Spread.MEDIUM_VAPOUR, 1, False),
    ("10 g sodium sulfide crystals", ["H302", "H311", "H314"], "small", Spread.MEDIUM_DUST, 1, True),
    ("2 L of 37 % formaldehyde", ["H301", "H314", "H341", "H350"], "medium", Spread.MEDIUM_VAPOUR, 4, True),
    ("100 mL propan-2-ol", ["H319", "H336"], "small", Spread.MEDIUM_VAPOUR, 1, True),
]


@pytest.mark.parametrize(("what", "codes", "amount", "spread", "number", "skin"), TASKS)
def test_a_darkroom_task_gets_its_approach(what, codes, amount, spread, number, skin):
    found = control_approach(band=hazard_band(codes), amount=Amount(amount), spread=spread)
    assert (found.number, found.skin_and_eyes) == (number, skin), what


@pytest.mark.parametrize("spread", list(Spread))
@pytest.mark.parametrize("group", list(HazardGroup))
def test_more_of_it_never_asks_for_less_control(group, spread):
    numbers = [control_approach(band=band_of(group), amount=amount, spread=spread).number for amount in Amount]
    assert numbers == sorted(numbers)
