"""Reading the first page as a person does: the day, what is due, the cards, the obvious act."""

from typing import NamedTuple

from tests.support.pages import HTML, tree, words


class Row(NamedTuple):
    what: str
    why: str
    act: str


def duties(page: str) -> list[Row]:
    """The rows of what is due."""
    for table in tree(page).iter(f"{HTML}table"):
        if table.findtext(f"{HTML}caption") == "What is due":
            return [Row(*(words(cell) for cell in row)) for row in table.iterfind(f"{HTML}tbody/{HTML}tr")]
    return []


def sentence(page: str) -> str:
    """The day in a sentence."""
    return next(words(one) for one in tree(page).iter(f"{HTML}p") if one.get("class") == "lead")


def primary_acts(page: str) -> list[str]:
    """The words of every link or button that is shown as the obvious one."""
    return [words(one) for one in tree(page).iter() if "primary" in (one.get("class") or "").split()]


def cards(page: str) -> list[str]:
    """The titles of the cards, in their order."""
    return [words(one) for one in tree(page).iterfind(f".//{HTML}article//{HTML}h3")]
