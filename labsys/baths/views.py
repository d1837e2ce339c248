from flask import Blueprint

bp = Blueprint("baths", __name__)
