"""Pages about baths, by subject: lines, one bath, mixing, tests, uses."""

from labsys.baths.blueprint import bp
from labsys.baths.views import baths, by_person, late_uses, lines, mixing, testing, uses

__all__ = ["baths", "bp", "by_person", "late_uses", "lines", "mixing", "testing", "uses"]
