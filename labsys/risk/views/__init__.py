"""Pages about assessments, by subject: reading, writing, approval, actions."""

from labsys.risk.blueprint import bp
from labsys.risk.views import actions, approval, reading, writing

__all__ = ["actions", "approval", "bp", "reading", "writing"]
