from flask import Blueprint

bp = Blueprint("desk", __name__)
