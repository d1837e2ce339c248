from flask import Blueprint

bp = Blueprint("waste", __name__)
