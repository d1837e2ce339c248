"""Pages about baths, by subject: lines, one bath, mixing, uses."""

from flask import Blueprint

bp = Blueprint("baths", __name__)

from labsys.baths.views import baths, lines, mixing, uses  # noqa: E402 - each adds its views to the blueprint

__all__ = ["baths", "bp", "lines", "mixing", "uses"]
