"""Where the pages about baths are registered."""

from flask import Blueprint

bp = Blueprint("baths", __name__)
