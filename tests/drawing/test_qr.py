import segno
from hypothesis import given
from hypothesis import strategies as st

from labsys.drawing.qr import QUIET_ZONE, qr_code
from labsys.drawing.scene import Line, Move, Path, Rect, Role
from labsys.drawing.svg import to_svg


def painted_modules(scene):
    """Rebuild the matrix by filling the path's blocks one by one; a module painted twice is an error."""
    _, path = scene.shapes
    side = int(scene.width)
    matrix = [[0] * side for _ in range(side)]
    corners = [(point.x, point.y) for point in path.segments if isinstance(point, Move | Line)]
    for start in range(0, len(corners), 4):
        (left, top), _, (right, bottom), _ = corners[start : start + 4]
        for row in range(int(top), int(bottom)):
            for column in range(int(left), int(right)):
                matrix[row][column] += 1
    return matrix


@given(text=st.text(min_size=1, max_size=120))
def test_the_scene_paints_the_matrix_module_for_module_inside_its_quiet_zone(text):
    code = segno.make(text, error="q", micro=False)
    scene = qr_code(text, title="A code")
    assert painted_modules(scene) == [list(row) for row in code.matrix_iter(border=QUIET_ZONE)]


def test_the_quiet_zone_is_four_clear_modules_on_every_side():
    """ISO/IEC 18004 asks for four (from memory)."""
    scene = qr_code("https://lab.example/c/F118", title="A code")
    ground, path = scene.shapes
    assert ground == Rect(0, 0, scene.width, scene.height, Role.QUIET_ZONE)
    assert isinstance(path, Path)
    assert path.role is Role.MODULE
    across = [point.x for point in path.segments if isinstance(point, Move | Line)]
    assert (min(across), max(across)) == (4, scene.width - 4)


def test_the_code_survives_the_loss_of_a_quarter():
    """Level Q recovers about 25 % (ISO/IEC 18004, from memory)."""
    text = "https://lab.example/c/F118"
    strong = segno.make(text, error="q", micro=False)
    assert strong.error in {"Q", "H"}
    assert qr_code(text, title="A code").width == len(strong.matrix) + 2 * QUIET_ZONE


def test_a_code_costs_a_page_less_than_six_kilobytes():
    address = "https://darkroom.quarry-street.example/c/QSD-F118-7"
    assert len(to_svg(qr_code(address, title="A code"), name="code")) < 6000
