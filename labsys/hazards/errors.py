"""What can go wrong in the hazards room. Each error carries the facts, so that a page can find its own words."""

import math


class HazardsError(ValueError):
    """Something was asked that cannot be answered."""


class OutOfRange(HazardsError):
    """A number lies outside the range in which it has a meaning."""

    def __init__(self, name: str, value: float, low: float, high: float) -> None:
        super().__init__(f"{name} is {value:g}; it must lie between {low:g} and {high:g}")
        self.name, self.value, self.low, self.high = name, value, low, high


def check_between(name: str, value: float, low: float, high: float = math.inf) -> None:
    """Raise OutOfRange unless low <= value <= high; what is not a number lies nowhere."""
    if not low <= value <= high:
        raise OutOfRange(name, value, low, high)


def check_above(name: str, value: float, low: float, high: float = math.inf) -> None:
    """Raise OutOfRange unless low < value <= high; what is not a number lies nowhere."""
    if not low < value <= high:
        raise OutOfRange(name, value, low, high)


class BadCas(HazardsError):
    """A text is not a CAS registry number."""

    def __init__(self, text: str, reason: str) -> None:
        super().__init__(f"{text!r} is not a CAS number: {reason}")
        self.text, self.reason = text, reason


class UnknownStatement(HazardsError):
    """A hazard or precautionary code that is not on the list."""

    def __init__(self, code: str) -> None:
        super().__init__(f"no statement {code!r} is on the list")
        self.code = code


class UnresolvedStatement(HazardsError):
    """A statement still holds a blank which only the supplier's sheet can fill."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(f"{code} cannot be printed before its blank is filled: {text}")
        self.code, self.text = code, text


class UnknownClass(HazardsError):
    """A hazard class, category and code that do not belong together."""

    def __init__(self, text: str) -> None:
        super().__init__(f"{text!r} is not a hazard class, category and code")
        self.text = text


class UnreadableConcentration(HazardsError):
    """A concentration that cannot be read as one content or a range of contents."""

    def __init__(self, text: str, reason: str) -> None:
        super().__init__(f"{text!r}: {reason}")
        self.text, self.reason = text, reason


class UnreadableFigure(HazardsError):
    """A figure of a sheet that cannot be read as one figure or a range of figures."""

    def __init__(self, text: str, reason: str) -> None:
        super().__init__(f"{text!r}: {reason}")
        self.text, self.reason = text, reason


class UnknownSubstance(HazardsError):
    """No reference entry carries this CAS number."""

    def __init__(self, cas: str) -> None:
        super().__init__(f"no reference entry for CAS {cas}")
        self.cas = cas


class UnknownWasteCode(HazardsError):
    """A text is not a List of Waste code, or not one the lab keeps."""

    def __init__(self, text: str, reason: str) -> None:
        super().__init__(f"{text!r}: {reason}")
        self.text, self.reason = text, reason
