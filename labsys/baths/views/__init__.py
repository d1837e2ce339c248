"""Pages about baths, by subject: lines, one bath, mixing, uses."""

from labsys.baths.blueprint import bp
from labsys.baths.views import baths, lines, mixing, uses

__all__ = ["baths", "bp", "lines", "mixing", "uses"]
