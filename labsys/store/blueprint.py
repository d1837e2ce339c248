"""The blueprint that all pages of the chemical store hang on."""

from flask import Blueprint

bp = Blueprint("store", __name__)
