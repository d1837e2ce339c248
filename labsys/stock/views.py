from flask import Blueprint

bp = Blueprint("stock", __name__)
