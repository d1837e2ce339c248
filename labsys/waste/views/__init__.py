"""Pages about waste: containers with all that becomes of them, and bottles that are thrown away."""

from labsys.waste.blueprint import bp
from labsys.waste.views import bottles, containers

__all__ = ["bottles", "bp", "containers"]
