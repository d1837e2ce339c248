import pytest

from labsys.drawing.scene import Close, Curve, Line, Move, UnreadablePath, ellipse, polygon, trace


def test_each_path_command_becomes_its_segment():
    assert trace("M1 2 L3,4 H5 V-6 C1 2 3 4 5.5 6 Z") == (
        Move(1, 2),
        Line(3, 4),
        Line(5, 4),
        Line(5, -6),
        Curve(1, 2, 3, 4, 5.5, 6),
        Close(),
    )


def test_a_command_repeats_without_its_letter():
    assert trace("M0 0 L1 1 2 2") == (Move(0, 0), Line(1, 1), Line(2, 2))


@pytest.mark.parametrize(
    "words", ["M0 0 l1 1", "M0 0 A1 1 0 0 0 2 2", "M0", "M0 0 L1", "M0 0 H", "M0 0 Z 3", "nonsense"]
)
def test_a_path_written_otherwise_is_refused(words):
    with pytest.raises(UnreadablePath) as refusal:
        trace(words)
    assert refusal.value.words == words


def test_a_polygon_is_closed():
    assert polygon((0, 0), (1, 0), (0, 1)) == (Move(0, 0), Line(1, 0), Line(0, 1), Close())


def test_an_ellipse_strays_from_its_true_outline_by_less_than_three_in_ten_thousand():
    """A cubic quarter of a circle with control distance 0.5523 is at most 0.00027 of the radius off.

    Source: from memory; the tolerance is checked here against the equation of the circle itself.
    """
    start, *quarters, _ = ellipse(x=0, y=0, rx=1, ry=1)
    for quarter in quarters:
        for step in range(11):
            t = step / 10
            x, y = (
                (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
                for a, b, c, d in (
                    (start.x, quarter.x1, quarter.x2, quarter.x),
                    (start.y, quarter.y1, quarter.y2, quarter.y),
                )
            )
            assert x * x + y * y == pytest.approx(1, abs=0.0006)
        start = quarter
