"""Pages of the chemical store, by subject: bottles, shelves and counts, what is kept apart."""

from labsys.store.blueprint import bp
from labsys.store.views import bottles, quarantine, shelves

__all__ = ["bottles", "bp", "quarantine", "shelves"]
