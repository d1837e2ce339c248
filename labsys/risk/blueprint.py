"""Where the pages about assessments are registered."""

from flask import Blueprint

bp = Blueprint("risk", __name__)
