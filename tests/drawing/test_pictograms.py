import math
from itertools import combinations

import pytest

from labsys.drawing.pictograms import DIAGONAL, GROUND, NAMES, Pictogram, pictogram
from labsys.drawing.scene import Close, Curve, Group, Path, Role


def reach(shapes, transform=(1, 0, 0, 1, 0, 0)):
    """Yield (role, x, y, half the stroke) of every end and control point, in the scene's own units."""
    a, b, c, d, e, f = transform
    for shape in shapes:
        if isinstance(shape, Group):
            cos, sin = (shape.scale * each(math.radians(shape.turn)) for each in (math.cos, math.sin))
            x, y = a * shape.x + c * shape.y + e, b * shape.x + d * shape.y + f
            inner = (a * cos + c * sin, b * cos + d * sin, c * cos - a * sin, d * cos - b * sin, x, y)
            yield from reach(shape.shapes, inner)
            continue
        assert isinstance(shape, Path)
        half = (shape.stroke or 0) / 2 * math.hypot(a, b)
        for segment in shape.segments:
            if isinstance(segment, Close):
                continue
            ends = [(segment.x, segment.y)]
            if isinstance(segment, Curve):
                ends += [(segment.x1, segment.y1), (segment.x2, segment.y2)]
            for x, y in ends:
                yield shape.role, a * x + c * y + e, b * x + d * y + f, half


@pytest.fixture(params=Pictogram, ids=lambda code: NAMES[code])
def scene(request):
    return pictogram(request.param)


def test_there_are_nine_with_the_published_codes():
    """CLP Annex V (from memory)."""
    assert [str(code) for code in Pictogram] == [f"GHS0{number}" for number in range(1, 10)]


def test_the_frame_is_a_square_on_its_point_that_touches_all_four_edges(scene):
    """CLP Annex I 1.2.1: a square set on a point."""
    corners = {(round(x, 6), round(y, 6)) for role, x, y, _ in reach(scene.shapes) if role is Role.HAZARD_FRAME}
    assert corners == {(50, 0), (100, 50), (50, 100), (0, 50)}
    assert (scene.width, scene.height) == (100, 100)


def test_the_symbol_keeps_clear_of_the_frame(scene):
    for role, x, y, half in reach(scene.shapes):
        if role is Role.HAZARD_SYMBOL:
            assert abs(x - 50) + abs(y - 50) + half * math.sqrt(2) < GROUND


def test_the_symbol_is_large_enough_to_be_told_across_a_room(scene):
    """At least half the white ground's height or width: our own rule, no source."""
    points = [(x, y) for role, x, y, _ in reach(scene.shapes) if role is Role.HAZARD_SYMBOL]
    spread = max(max(axis) - min(axis) for axis in zip(*points, strict=True))
    assert spread >= GROUND


def test_no_two_pictograms_are_the_same_drawing():
    for one, other in combinations(Pictogram, 2):
        assert pictogram(one).shapes != pictogram(other).shapes


def test_the_diagonal_turns_the_side_the_law_speaks_of_into_a_painted_width():
    side_mm = 16
    assert (DIAGONAL * side_mm) ** 2 == pytest.approx(2 * side_mm**2)
