"""argon2 hashes, with the cost from the settings."""

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

Cost = tuple[int, int, int]


def hash_password(password: str, *, cost: Cost) -> str:
    return _hasher(cost).hash(password)


def password_fits(password: str, password_hash: str | None, *, cost: Cost) -> bool:
    """Whether the password fits. Takes as long for an account without a hash, so that time tells nothing."""
    hasher = _hasher(cost)
    if password_hash is None:
        hasher.hash(password)
        return False
    try:
        return hasher.verify(password_hash, password)
    except (VerifyMismatchError, InvalidHashError):
        return False


def _hasher(cost: Cost) -> PasswordHasher:
    time_cost, memory_kib, lanes = cost
    return PasswordHasher(time_cost=time_cost, memory_cost=memory_kib, parallelism=lanes)
