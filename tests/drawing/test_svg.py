import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path as FilePath

import pytest

from labsys.drawing.graduate import Liquid, graduate, life_bar
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.qr import qr_code
from labsys.drawing.scene import Group, Rect, Role, Scene, Text
from labsys.drawing.svg import BadDrawingName, to_svg
from labsys.drawing.texture import TEXTURES

SCENES = [
    *(graduate(level_ml=1200, capacity_ml=2500, liquid=liquid) for liquid in Liquid),
    *(life_bar(share) for share in (None, 0, 0.24, 1)),
    *(pictogram(code) for code in Pictogram),
    qr_code("https://lab.example/c/F118", title="Scan to open bath F118"),
]
STYLESHEET = FilePath(__file__).parents[2] / "static" / "drawing.css"


def parsed(svg):
    return ET.fromstring(svg)  # noqa: S314 - our own drawing


@pytest.fixture(params=SCENES, ids=lambda scene: scene.title)
def scene(request):
    return request.param


def test_every_drawing_is_well_formed_and_carries_no_style_script_or_outside_reference(scene):
    root = parsed(to_svg(scene, name="one"))
    for element in root.iter():
        assert element.tag in {"svg", "title", "defs", "pattern", "rect", "path", "text", "g"}
        assert not {name for name in element.attrib if name == "style" or name.startswith("on") or "href" in name}
    assert "http" not in to_svg(scene, name="one")


def test_every_drawing_says_what_it_shows(scene):
    root = parsed(to_svg(scene, name="one"))
    assert root.get("role") == "img"
    assert root.get("aria-label") == root.findtext("title") == scene.title


def test_equal_scenes_give_equal_text(scene):
    copy = Scene(scene.kind, scene.width, scene.height, scene.title, scene.shapes, scene.stretches)
    assert to_svg(scene, name="one") == to_svg(copy, name="one")


def test_no_colour_is_written_into_a_drawing(scene):
    for element in parsed(to_svg(scene, name="one")).iter():
        assert "stroke" not in element.attrib
        assert element.get("fill", "url(#").startswith("url(#")


def test_two_graduates_of_one_state_share_a_page_without_sharing_an_id():
    near = graduate(level_ml=1, capacity_ml=2, liquid=Liquid.NEAR_END)
    page = "".join(to_svg(near, name=name) for name in ("bath-1", "bath-2"))
    ids = Counter(re.findall(r' id="([^"]+)"', page))
    assert len(ids) == 2
    assert set(ids.values()) == {1}
    assert {f"url(#{name})" for name in ids} == set(re.findall(r'fill="([^"]+)"', page))


def test_words_from_outside_are_escaped():
    hostile = '"><script>alert(1)</script>&'
    scene = Scene("graduate", 10, 10, hostile, (Text(0, 0, hostile, 5),))
    root = parsed(to_svg(scene, name="one"))
    assert root.get("aria-label") == hostile
    assert root.findtext("text") == hostile


@pytest.mark.parametrize("name", ["", "1", "a b", 'a"', "-a", "é"])
def test_a_name_that_cannot_begin_an_id_is_refused(name):
    with pytest.raises(BadDrawingName):
        to_svg(life_bar(None), name=name)


def test_a_group_is_moved_then_turned_then_scaled():
    inner = Rect(0, 0, 1, 1, Role.INK)
    svg = to_svg(Scene("plan", 9, 9, "A plan", (Group((inner,), x=1, y=2, scale=3, turn=45),)), name="one")
    assert '<g transform="translate(1 2) rotate(45) scale(3)">' in svg


def test_the_stylesheet_gives_every_role_its_colour():
    rules = STYLESHEET.read_text(encoding="utf-8")
    for role in Role:
        written_by_pattern = role in TEXTURES
        assert written_by_pattern or re.search(rf"\.d-{role}\b", rules), role


def test_the_stylesheet_writes_colours_of_its_own_only_for_the_published_pictograms():
    rules = STYLESHEET.read_text(encoding="utf-8")
    with_figures = [
        head.strip()
        for head, body in re.findall(r"([^{}]+)\{([^{}]*)\}", rules)
        if re.search(r"#[0-9a-f]{3,6}\b", body)
    ]
    assert with_figures
    assert all(".d-hazard-" in selector for head in with_figures for selector in head.rpartition("*/")[2].split(","))
