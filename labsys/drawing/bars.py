"""A chart of plain bars, one under the other: what each is called, its figure in words, and its length to one scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.drawing.scene import Anchor, Path, Rect, Role, Scene, Shape, Text, trace

WIDTH = 336.0  # [-] as wide as a phone's page: a drawing never shrinks its words
_ROW, _WORDS, _BAR = 30.0, 12.0, 8.0
_TYPE_SIZE = 12.0
_MOST_LETTERS = 26  # of a name beside its figure


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: what it is called, its figure as it is said, and its length in the unit that all bars have."""

    name: str
    said: str
    value: float


class BarOutOfRange(ValueError):
    """A bar is shorter than nothing."""

    def __init__(self, bar: Bar) -> None:
        super().__init__(f"a bar is not shorter than nothing: {bar.value} of {bar.name!r}")
        self.bar = bar


def bars(rows: Sequence[Bar], *, title: str) -> Scene:
    """Return bars one under the other, the longest as wide as the drawing.

    Parameters:
        rows: The bars, in the order in which they are drawn. [-]
        title: What the chart shows, for those who do not see it. [-]
    Returns:
        A scene 336 wide, 30 high for each bar. [-]
    Raises:
        BarOutOfRange: A bar is shorter than nothing.
    """
    longest = max((bar.value for bar in rows), default=0.0)
    shapes: list[Shape] = []
    for place, bar in enumerate(rows):
        if bar.value < 0:
            raise BarOutOfRange(bar)
        top = place * _ROW
        width = WIDTH * bar.value / longest if longest else 0.0
        ground = top + _WORDS + 4
        shapes += [
            Text(0, top + _WORDS, _cut(bar.name), _TYPE_SIZE),
            Text(WIDTH, top + _WORDS, bar.said, _TYPE_SIZE, anchor=Anchor.END),
            Path(trace(f"M0 {ground + _BAR} H{WIDTH}"), Role.LINE, stroke=1),
        ]
        if width:
            shapes.append(Rect(0, ground, width, _BAR, Role.INK))
    return Scene(kind="bars", width=WIDTH, height=_ROW * max(1, len(rows)), title=title, shapes=tuple(shapes))


def _cut(name: str) -> str:
    return name if len(name) <= _MOST_LETTERS else f"{name[: _MOST_LETTERS - 1].rstrip()}…"
