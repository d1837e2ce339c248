"""Counts beside their sizes, as typed and as a page begins with them."""

from sqlalchemy import select

from labsys.baths.models import Use
from tests.support.lab import SmallLab
from tests.support.pages import HTML, tree


def film(count: object, size: str = "120") -> dict[str, object]:
    """A number of pieces of film, as typed beside their size."""
    return {f"went-film-{size}": count}


def filled_in(page: str) -> dict[str, str]:
    """The counts that a page begins with."""
    inputs = [field for field in tree(page).iter(HTML + "input") if field.get("name", "").startswith("went-")]
    return {field.get("name", ""): value for field in inputs if (value := field.get("value"))}


def uses(lab: SmallLab) -> list[Use]:
    """What is logged by now."""
    lab.session.rollback()
    return list(lab.session.execute(select(Use).order_by(Use.id)).scalars())
