"""Pages about baths, by subject: lines, one bath, mixing, uses."""

from labsys.baths.blueprint import bp
from labsys.baths.views import baths, by_person, late_uses, lines, mixing, uses

__all__ = ["baths", "bp", "by_person", "late_uses", "lines", "mixing", "uses"]
