"""The blueprint of the pages about processes; its views register with it."""

from flask import Blueprint

bp = Blueprint("processes", __name__)
