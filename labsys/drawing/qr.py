"""A QR code as a scene of rectangles, small enough to stand inside a page."""

import segno

from labsys.drawing.scene import Path, Rect, Role, Scene, Segment, polygon

QUIET_ZONE = 4  # modules of clear ground on every side, as ISO/IEC 18004 asks (from memory)


def qr_code(text: str, *, title: str) -> Scene:
    """Return the QR code of a text, one unit a module, its quiet zone included.

    Error correction is at least Q (a quarter of the code may be splashed or torn and it still reads).

    Parameters:
        text: What a scanner shall read, usually an address. [-]
        title: What the code leads to, in words. [-]
    Returns:
        A square scene. [module]
    """
    matrix = segno.make(text, error="q", micro=False).matrix
    side = len(matrix) + 2 * QUIET_ZONE
    outline: list[Segment] = []
    for left, top, width, height in _blocks([[bool(module) for module in row] for row in matrix]):
        x, y = left + QUIET_ZONE, top + QUIET_ZONE
        outline += polygon((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Scene(
        kind="qr",
        width=side,
        height=side,
        title=title,
        shapes=(Rect(0, 0, side, side, Role.QUIET_ZONE), Path(tuple(outline), Role.MODULE)),
    )


def _blocks(matrix: list[list[bool]]) -> list[tuple[int, int, int, int]]:
    """Return (left, top, width, height) of blocks that cover the dark modules: runs in a row, grown downwards."""
    open_runs: dict[tuple[int, int], tuple[int, int]] = {}
    blocks: list[tuple[int, int, int, int]] = []
    for row, modules in enumerate([*matrix, [False] * len(matrix)]):
        runs = _runs(modules)
        for (left, width), (top, height) in list(open_runs.items()):
            if (left, width) not in runs:
                blocks.append((left, top, width, height))
                del open_runs[left, width]
        for run in runs:
            top, height = open_runs.get(run, (row, 0))
            open_runs[run] = (top, height + 1)
    return sorted(blocks, key=lambda block: (block[1], block[0]))


def _runs(modules: list[bool]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for column, dark in enumerate(modules):
        if not dark:
            continue
        if runs and sum(runs[-1]) == column:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((column, 1))
    return runs


def scan_code_of(code: str, *, public_url: str) -> Scene:
    """Return the drawing of a code of the lab, which leads to the page of what it stands on."""
    return qr_code(f"{public_url}/c/{code}", title=f"Leads to {code}")
