from collections.abc import Iterator

import pytest

from tests.mail.post_office import PostOffice


@pytest.fixture
def post_office() -> Iterator[PostOffice]:
    with PostOffice() as office:
        yield office
