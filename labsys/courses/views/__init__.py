"""Pages of courses, by subject: setting up and keeping one, the register of a meeting."""

from labsys.courses.blueprint import bp
from labsys.courses.views import register, setting_up, uses

__all__ = ["bp", "register", "setting_up", "uses"]
