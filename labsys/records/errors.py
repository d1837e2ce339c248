"""Errors every room may raise."""


class NotFound(Exception):
    """There is no such row."""

    def __init__(self, kind: str, key: object):
        super().__init__(f"There is no {kind} {key}.")
        self.kind = kind
        self.key = key


class Refused(Exception):
    """A rule stands against what was asked. Nothing was written; the message says why and what to do next.

    Rooms derive their own refusals from it; `field` names the input it is about, where there is one.
    """

    def __init__(self, message: str, *, field: str | None = None):
        super().__init__(message)
        self.field = field
