import io

import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from labsys.drawing.graduate import Liquid, graduate, life_bar
from labsys.drawing.pdf import COLOURS, paint
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.qr import qr_code
from labsys.drawing.scene import Anchor, Group, Path, Rect, Role, Scene, Text, trace
from labsys.drawing.texture import TEXTURES


def painted(*scenes, width=60):
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(400, 400), invariant=1, pageCompression=0)
    heights = [paint(scene, canvas, x=10, y=390, width=width, font="Helvetica") for scene in scenes]
    canvas.save()
    return buffer.getvalue(), heights


def operators(data):
    return PdfReader(io.BytesIO(data)).pages[0].get_contents().operations


@pytest.mark.parametrize(
    "scene",
    [
        *(graduate(level_ml=1200, capacity_ml=2500, liquid=liquid) for liquid in Liquid),
        life_bar(None),
        *(pictogram(code) for code in Pictogram),
        qr_code("https://lab.example/c/F118", title="A code"),
    ],
    ids=lambda scene: scene.title,
)
def test_equal_scenes_give_equal_bytes_and_keep_their_proportions(scene):
    data, (height,) = painted(scene)
    assert data == painted(scene)[0]
    assert height == pytest.approx(60 * scene.height / scene.width)


def test_a_rectangle_lands_upside_down_from_the_scene_at_the_asked_scale():
    """The scene's y runs down, the page's up: 20 units below the top is 40 pt below it at two points a unit."""
    data, _ = painted(Scene("plan", 30, 30, "A plan", (Rect(5, 20, 10, 5, Role.INK),)))
    seen = operators(data)
    placed = [[float(value) for value in values] for values, operator in seen if operator == b"cm"]
    start = next(values for values, operator in seen if operator == b"m")
    assert placed[-1] == [2, 0, 0, -2, 10, 390]
    assert [float(value) for value in start] == [5, 20]


def test_a_textured_shape_is_clipped_before_the_texture_is_laid():
    for role in TEXTURES:
        names = [
            name for _, name in operators(painted(Scene("plan", 60, 60, "A plan", (Rect(7, 7, 20, 20, role),)))[0])
        ]
        assert names.count(b"W") == 1
        assert names.index(b"W") < max(index for index, name in enumerate(names) if name in {b"S", b"f"})


def test_only_the_hazard_frame_is_printed_in_colour():
    hued = {role for role, colour in COLOURS.items() if len({colour.red, colour.green, colour.blue}) > 1}
    assert hued == {Role.HAZARD_FRAME}


def test_every_role_is_a_colour_or_a_texture():
    assert set(COLOURS) | set(TEXTURES) == set(Role)
    assert not set(COLOURS) & set(TEXTURES)


def test_texts_are_written_where_they_are_anchored():
    texts = tuple(Text(30, 10, "ab", 8, anchor=anchor) for anchor in Anchor)
    data, _ = painted(Scene("plan", 60, 20, "A plan", (Group(texts, x=1, turn=90),)))
    assert PdfReader(io.BytesIO(data)).pages[0].extract_text().count("ab") == 3


def test_painting_leaves_the_canvas_as_it_was():
    scene = Scene("plan", 9, 9, "A plan", (Path(trace("M0 0 L9 9"), Role.INK, stroke=3, rounded=True),))
    names = [name for _, name in operators(painted(scene)[0])]
    assert names.count(b"q") == names.count(b"Q") > 0
