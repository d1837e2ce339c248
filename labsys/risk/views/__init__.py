"""Pages about assessments, by subject: reading, writing, approval, actions."""

from flask import Blueprint

bp = Blueprint("risk", __name__)

from labsys.risk.views import actions, approval, reading, writing  # noqa: E402 - each adds its views to the blueprint

__all__ = ["actions", "approval", "bp", "reading", "writing"]
