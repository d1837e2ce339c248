"""Canonical JSON and digests against published values."""

import hashlib
from datetime import UTC, datetime, timedelta, timezone

import pytest

from labsys.records import chain


# RFC 8785 (June 2020), section 3.2.3 and appendix B: property order and number forms, as printed there (from memory).
@pytest.mark.parametrize(
    ("value", "text"),
    [
        (
            {"numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 1e-27]},
            '{"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27]}',
        ),
        ({"literals": [None, True, False]}, '{"literals":[null,true,false]}'),
        ({"€": "Euro Sign", "\r": "CR", "1": "One"}, '{"\\r":"CR","1":"One","€":"Euro Sign"}'),
    ],
)
def test_canonical_json_is_that_of_rfc_8785(value, text):
    assert chain.canonical(value) == text


def test_the_digest_is_sha_256_of_salt_and_payload():
    assert chain.payload_digest(salt="ab", payload="{}") == hashlib.sha256(b"ab\n{}").hexdigest()


@pytest.mark.parametrize("microsecond", [0, 12, 500_000])
def test_the_hash_of_a_link_is_over_its_canonical_json(microsecond):
    """The walk writes the JSON out by hand; it is that of RFC 8785 all the same."""
    at = datetime(2026, 5, 14, 15, 0, 3, microsecond, tzinfo=timezone(timedelta(hours=1)))
    text = chain.canonical({"at": at.astimezone(UTC).isoformat(), "digest": "ab", "number": 7, "previous": "cd"})
    expected = hashlib.sha256(text.encode()).hexdigest()
    assert chain.link_hash(number=7, at=at, digest="ab", previous_hash="cd") == expected
