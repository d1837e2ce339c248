"""The blueprint that all pages of waste hang on."""

from flask import Blueprint

bp = Blueprint("waste", __name__)
