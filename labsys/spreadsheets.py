"""Tables as CSV (RFC 4180) that a spreadsheet opens without running anything."""

import csv
import io
from collections.abc import Iterable, Sequence

MEDIA_TYPE = "text/csv; charset=utf-8; header=present"
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def guarded(text: str) -> str:
    """Return a cell's text with an apostrophe before it where a spreadsheet would take it for a formula.

    >>> guarded("=1+1"), guarded(" @now"), guarded("1+9")
    ("'=1+1", "' @now", '1+9')
    """
    return f"'{text}" if text.startswith(_STARTS_A_FORMULA) or text.lstrip().startswith(_STARTS_A_FORMULA) else text


def as_csv(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table as CSV: a row of heads, then the rows, every cell guarded, lines ended as RFC 4180 says.

    >>> as_csv(["Name"], [["-2"], ['a "b", c']])
    'Name\\r\\n\\'-2\\r\\n"a ""b"", c"\\r\\n'
    """
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return target.getvalue()
