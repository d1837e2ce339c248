"""Every link leads somewhere: each role walks from the first page to all that can be reached by links."""

from collections.abc import Callable
from urllib.parse import urldefrag, urlsplit

import pytest
from flask.testing import FlaskClient

from labsys.people.models import Role
from tests.support.everything import furnish
from tests.support.lab import SmallLab
from tests.support.pages import links

pytestmark = pytest.mark.sqlite_only

MOST_PAGES = 600  # a calendar has no last page


@pytest.mark.parametrize("role", Role)
def test_no_link_leads_nowhere(role: Role, lab: SmallLab, client_as: Callable[..., FlaskClient]):
    furnish(lab)
    client = client_as(str(role))
    waiting, seen = ["/"], {"/"}
    astray = []
    for path in waiting:
        with client.get(path) as response:
            if response.status_code >= 400:
                astray.append(f"{path}: {response.status}")
            if response.status_code >= 300 or response.mimetype != "text/html":
                continue
            found = links(response.get_data(as_text=True))
        for link in found:
            target = urldefrag(link).url
            parts = urlsplit(target)
            if not target or parts.netloc or parts.scheme or target in seen or _is_calendar(parts.query):
                continue
            seen.add(target)
            waiting.append(target)
        assert len(waiting) < MOST_PAGES, "the walk does not end"
    assert not astray, "\n".join(astray)
    assert len(seen) > 15


def _is_calendar(query: str) -> bool:
    """Another day of the board, or a form filled in for it: one of each is enough."""
    return "day=" in query
