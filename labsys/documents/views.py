from flask import Blueprint

bp = Blueprint("documents", __name__)
