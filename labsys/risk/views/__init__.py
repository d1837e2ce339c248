"""Pages about assessments, by subject: reading, writing, approval, actions."""

from labsys.risk.blueprint import bp
from labsys.risk.views import actions, approval, findings, reading, writing

__all__ = ["actions", "approval", "bp", "findings", "reading", "writing"]
