"""The typeface of the documents, embedded, and what becomes of characters it does not have.

Fira Sans has the Latin, Greek and Cyrillic letters, so Łukasz, Ελένη and Лена print as they are written. A character
it lacks is first taken apart by Unicode (a letter with a rare accent keeps its letter); what still cannot be printed
appears as its code in brackets, "[U+738B]", so that a name in another script is never an empty box, and can be looked
up. Invisible characters (joiners, marks of direction) are left out; control characters become spaces.
"""

import unicodedata
from functools import cache
from itertools import groupby

import fontpkg_fira_sans
from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "FiraSans-Regular"
MEDIUM = "FiraSans-Medium"
BOLD = "FiraSans-SemiBold"

_FONTS = [TTFont(name, str(fontpkg_fira_sans.ROOT / "files" / f"{name}.ttf")) for name in (REGULAR, MEDIUM, BOLD)]
for _font in _FONTS:
    pdfmetrics.registerFont(_font)
# Every canvas starts by naming this font; left alone it would be Helvetica, which no PDF of ours embeds.
rl_config.canvas_basefontname = REGULAR


@cache
def _drawable() -> frozenset[int]:
    shared = frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in _FONTS))
    return frozenset(code for code in shared if not unicodedata.category(chr(code)).startswith("C"))


def printable(words: str) -> str:
    """Return the words with every character the typeface lacks replaced as this module's docstring says.

    Parameters:
        words: Any text. [-]
    Returns:
        Text that prints without an empty box. [-]

    >>> printable("Łukasz Ελένη Лена"), printable("王 伟"), printable("Ḵ")
    ('Łukasz Ελένη Лена', '[U+738B] [U+4F1F]', 'K')
    """
    composed = unicodedata.normalize("NFC", words)
    runs = ((known, "".join(run)) for known, run in groupby(composed, key=lambda each: ord(each) in _drawable()))
    return "".join(run if known else _replaced(run) for known, run in runs)


def _replaced(run: str) -> str:
    pieces: list[str] = []
    codes: list[str] = []
    for character in run:
        kind = unicodedata.category(character)
        if kind == "Cf" or unicodedata.combining(character):
            continue
        apart = unicodedata.normalize("NFKD", character)
        parts = [part for part in apart if ord(part) in _drawable() and not unicodedata.combining(part)]
        if kind in {"Cc", "Zl", "Zp", "Zs"} or parts:
            pieces += [_bracketed(codes), "".join(parts) or " "]
            codes = []
        else:
            codes.append(f"U+{ord(character):04X}")
    return "".join([*pieces, _bracketed(codes)])


def _bracketed(codes: list[str]) -> str:
    return f"[{' '.join(codes)}]" if codes else ""


def fitted(words: str, *, font: str, size: float, width: float) -> str:
    """Return the words made printable, cut short with "…" where they are wider than one line of `width`.

    Parameters:
        words: Any text. [-]
        font: One of this module's fonts. [-]
        size: Of the type. [pt]
        width: Of the line. [pt]
    Returns:
        Text no wider than the line, unless the line cannot hold even "…". [-]
    """
    line = printable(words)
    if pdfmetrics.stringWidth(line, font, size) <= width:
        return line
    while line and pdfmetrics.stringWidth(f"{line}…", font, size) > width:
        line = line[:-1]
    return f"{line.rstrip()}…"
