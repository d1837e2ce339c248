"""Where the pages of what was entered without a network or without power are registered."""

from flask import Blueprint

bp = Blueprint("offline", __name__)
