"""Where the pages of this room are registered."""

from flask import Blueprint

bp = Blueprint("courses", __name__)
