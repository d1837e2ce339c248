"""Pages about ways of working, by subject: processes, and the lab's own developing times."""

from labsys.processes.blueprint import bp
from labsys.processes.views import film_times, processes

__all__ = ["bp", "film_times", "processes"]
