import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.drawing.graduate import (
    BOTTOM,
    LEFT,
    RIGHT,
    ROLE_OF,
    TOP,
    LevelOutOfRange,
    Liquid,
    ShareOutOfRange,
    graduate,
    life_bar,
    scale_marks,
)
from labsys.drawing.scene import Rect, Role, Text


def liquid_of(scene):
    return [shape for shape in scene.shapes if isinstance(shape, Rect)]


def numbers_of(scene):
    return [shape.words for shape in scene.shapes if isinstance(shape, Text)]


@given(capacity=st.floats(1, 1e6), share=st.floats(0.001, 1), liquid=st.sampled_from(Liquid))
def test_the_liquid_stands_at_the_true_level_in_the_texture_of_its_state(capacity, share, liquid):
    level = min(capacity, capacity * share)
    (rect,) = liquid_of(graduate(level_ml=level, capacity_ml=capacity, liquid=liquid))
    assert rect.height / (BOTTOM - TOP) == pytest.approx(level / capacity)
    assert rect.y + rect.height == pytest.approx(BOTTOM)
    assert (rect.x, rect.width) == (LEFT, RIGHT - LEFT)
    assert rect.role is ROLE_OF[liquid]


def test_an_empty_vessel_holds_no_liquid():
    assert liquid_of(graduate(level_ml=0, capacity_ml=2500, liquid=Liquid.PLENTY)) == []


@pytest.mark.parametrize(
    ("capacity_ml", "numbers"),
    [  # common practice, no source
        (2500, ["0.5", "1.0", "1.5", "2.0", "2.5", "L"]),
        (5000, ["1", "2", "3", "4", "5", "L"]),
        (1000, ["0.2", "0.4", "0.6", "0.8", "1.0", "L"]),
        (600, ["100", "200", "300", "400", "500", "600", "mL"]),
        (25000, ["5", "10", "15", "20", "25", "L"]),
        (10, ["2", "4", "6", "8", "10", "mL"]),
        (1900, ["0.5", "1.0", "1.5", "L"]),
    ],
)
def test_the_scale_is_numbered_as_a_measuring_cylinder_is(capacity_ml, numbers):
    assert numbers_of(graduate(level_ml=0, capacity_ml=capacity_ml, liquid=Liquid.PLENTY)) == numbers


@given(capacity=st.floats(1e-3, 1e7))
def test_a_scale_has_two_to_six_numbered_marks_evenly_spaced_within_the_capacity(capacity):
    numbered, between = scale_marks(capacity_ml=capacity)
    assert 2 <= len(numbered) <= 6
    assert numbered[-1] <= capacity * (1 + 1e-9)
    assert [mark / numbered[0] for mark in numbered] == pytest.approx(range(1, len(numbered) + 1))
    assert [mark / numbered[0] for mark in between] == pytest.approx([at + 0.5 for at in range(len(between))])


def test_a_mark_stands_where_the_liquid_would_reach_it():
    full_to_the_mark = graduate(level_ml=1500, capacity_ml=2500, liquid=Liquid.EXHAUSTED)
    (rect,) = liquid_of(full_to_the_mark)
    number = next(shape for shape in full_to_the_mark.shapes if isinstance(shape, Text) and shape.words == "1.5")
    assert number.y - rect.y == pytest.approx(3.2)  # half the height of a figure: the number is centred on its mark


@pytest.mark.parametrize(
    ("level_ml", "capacity_ml"), [(-1, 10), (11, 10), (0, 0), (0, -5), (float("nan"), 10), (1, float("nan"))]
)
def test_a_level_that_does_not_fit_its_vessel_is_refused_not_clamped(level_ml, capacity_ml):
    with pytest.raises(LevelOutOfRange) as refusal:
        graduate(level_ml=level_ml, capacity_ml=capacity_ml, liquid=Liquid.PLENTY)
    assert refusal.value.capacity_ml is capacity_ml


def test_a_graduate_says_its_volumes_and_its_state_in_words():
    assert graduate(level_ml=2050, capacity_ml=2500, liquid=Liquid.NEAR_END).title == "2.05 L of 2.5 L, near its end"
    assert graduate(level_ml=250, capacity_ml=600, liquid=Liquid.UNKNOWN).title == "250 mL of 600 mL, not known"


def test_a_graduate_says_what_it_is_told_to_say():
    scene = graduate(level_ml=1, capacity_ml=2, liquid=Liquid.EXHAUSTED, title="Container W-7, quarantined")
    assert scene.title == "Container W-7, quarantined"


@given(share=st.floats(0, 1))
def test_a_life_bar_is_as_long_as_the_share_that_is_left(share):
    scene = life_bar(share)
    (bar,) = liquid_of(scene)
    assert bar.width == pytest.approx(scene.width * share)
    assert bar.role is Role.INK


def test_a_life_bar_of_an_unknown_share_is_dotted_and_says_so():
    scene = life_bar(None)
    (bar,) = liquid_of(scene)
    assert bar.role is Role.LIQUID_UNKNOWN
    assert scene.title == "Life left: not known"


@pytest.mark.parametrize("share", [-0.01, 1.01, float("nan")])
def test_a_share_outside_nothing_and_all_is_refused(share):
    with pytest.raises(ShareOutOfRange):
        life_bar(share)
