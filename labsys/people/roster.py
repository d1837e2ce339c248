"""A roster as people have it: typed, or from a spreadsheet in whatever encoding, read row by row with what is wrong."""

import csv
import io
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from labsys.people.rules import PersonRefused, check_email, check_name

MOST_ROWS = 25_000
ENCODINGS = {
    "": "find out by itself",
    "utf-8": "Unicode (UTF-8)",
    "utf-16": "Unicode (UTF-16)",
    "cp1250": "Central European",
    "cp1251": "Cyrillic",
    "cp1252": "Western European",
    "cp1253": "Greek",
    "cp1254": "Turkish",
    "cp1255": "Hebrew",
    "cp1256": "Arabic",
    "cp1257": "Baltic",
    "shift_jis": "Japanese (Shift JIS)",
    "gb18030": "Chinese (GB 18030)",
    "big5": "Chinese (Big5)",
    "euc_kr": "Korean",
}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_STARTS_A_FORMULA = ("=", "+", "-", "@")
_NAME_HEADS = frozenset({"name", "full name", "student", "student name", "participant"})
_FIRST_HEADS = frozenset({"first name", "given name", "forename", "firstname"})
_LAST_HEADS = frozenset({"last name", "surname", "family name", "lastname"})
_EMAIL_HEADS = frozenset({"e-mail", "email", "mail", "e-mail address", "email address", "address"})
_BETWEEN = (",", ";", "\t")


@dataclass(frozen=True)
class Row:
    """One row of a roster: its number in the file, what it says, and what is wrong with it."""

    number: int
    name: str
    email: str
    problem: str = ""


@dataclass(frozen=True)
class Decoded:
    text: str
    remark: str = ""


class NotText(ValueError):
    """What was sent cannot be read as text; the message says what to do."""


def decode(content: bytes, *, encoding: str = "") -> Decoded:
    """Read a file as text: as its mark says, as was chosen, else as UTF-8, else as Western European, and say so.

    >>> decode("Žofie".encode("cp1250"), encoding="cp1250").text
    'Žofie'
    """
    marked = next((name for mark, name in _MARKS if content.startswith(mark)), "")
    if marked or encoding:
        try:
            return Decoded(content.decode(marked or encoding))
        except UnicodeError as error:
            raise NotText("The file is not written in that encoding. Choose another, or save it as UTF-8.") from error
    try:
        text = content.decode("utf-8")
        if "\0" not in text:
            return Decoded(text)
        return Decoded(content.decode("utf-16-le" if content[1:2] == b"\0" else "utf-16-be"))
    except UnicodeError:
        pass
    try:
        return Decoded(
            content.decode("cp1252"), "Read as Western European. Where names look wrong, choose how it is written."
        )
    except UnicodeError as error:
        raise NotText("It cannot be told how the file is written. Choose it, or save the file as UTF-8.") from error


def read_roster(text: str) -> list[Row]:
    """Read people from lines of name and e-mail address, with or without heads, divided by comma, semicolon or tab.

    Every row is there, each with its first problem. Empty lines are passed over.

    >>> [row.problem for row in read_roster("Ana, ana@example.org\\nBo")]
    ['', 'No e-mail address.']
    """
    lines = text.lstrip("\ufeff").replace("\0", "")
    between = max(_BETWEEN, key=lambda mark: sum(mark in line for line in lines.splitlines()[:50]))
    cells: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(lines, newline=""), delimiter=between, skipinitialspace=True)
    try:
        for row in reader:
            cells.append((reader.line_num, [_plain(cell) for cell in row]))
            if len(cells) > MOST_ROWS:
                raise NotText(f"A roster has at most {MOST_ROWS} rows. Send it in parts.")
    except csv.Error as error:
        raise NotText(f"Line {reader.line_num} cannot be read as a table. Save the file as CSV again.") from error
    cells = [(number, row) for number, row in cells if any(row)]
    columns = _columns(cells[0][1]) if cells else None
    rows = [_row(number, row, columns) for number, row in (cells[1:] if columns else cells)]
    return _without_twins(rows)


def usable(rows: Iterable[Row]) -> list[Row]:
    """The rows with which nothing is wrong."""
    return [row for row in rows if not row.problem]


def as_text(people: Iterable[tuple[str, str]]) -> str:
    """Names and addresses as they would be typed."""
    return "\n".join(f"{name}, {email}" for name, email in people)


def _plain(cell: str) -> str:
    return " ".join(unicodedata.normalize("NFC", cell).split())


def _columns(first: Sequence[str]) -> tuple[list[int], int] | None:
    """Where the names and the address stand, where the first row is one of heads."""
    heads = [cell.casefold() for cell in first]
    email = next((place for place, head in enumerate(heads) if head in _EMAIL_HEADS), None)
    if email is None:
        return None
    for kinds in ((_NAME_HEADS,), (_FIRST_HEADS, _LAST_HEADS)):
        places = [next((place for place, head in enumerate(heads) if head in kind), None) for kind in kinds]
        if None not in places:
            return [place for place in places if place is not None], email
    return [place for place in (0, 1) if place != email][:1], email


def _row(number: int, cells: Sequence[str], columns: tuple[list[int], int] | None) -> Row:
    if columns:
        places, at = columns
        name = " ".join(cells[place] for place in places if place < len(cells)).strip()
        email = cells[at] if at < len(cells) else ""
    else:
        email = next((cell for cell in cells if "@" in cell and not cell.startswith(_STARTS_A_FORMULA)), "")
        name = next((cell for cell in cells if cell and cell != email), "")
    return _checked(Row(number, name, email))


def _checked(row: Row) -> Row:
    if row.name.removeprefix("'").startswith(_STARTS_A_FORMULA) or row.email.startswith(_STARTS_A_FORMULA):
        return replace(row, problem="It begins like a formula of a spreadsheet. Write the name itself.")
    if not row.name:
        return replace(row, problem="No name.")
    if not row.email:
        return replace(row, problem="No e-mail address.")
    try:
        return replace(row, name=check_name(row.name), email=check_email(row.email))
    except PersonRefused as refusal:
        return replace(row, problem=str(refusal))


def _without_twins(rows: Iterable[Row]) -> list[Row]:
    first_with: dict[str, int] = {}
    told = []
    for row in rows:
        earlier = None if row.problem else first_with.setdefault(row.email, row.number)
        is_twin = earlier is not None and earlier != row.number
        told.append(replace(row, problem=f"The same address as line {earlier}.") if is_twin else row)
    return told
