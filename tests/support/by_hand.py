"""Changing rows as somebody does who holds the database itself."""

from sqlalchemy import text

from tests.support.lab import SmallLab


def change_by_hand(lab: SmallLab, statement: str, *, table: str) -> None:
    """Run a statement that the triggers of a table refuse: the one against it is taken off first."""
    on = f" ON {table}" if lab.session.get_bind().dialect.name == "postgresql" else ""
    lab.session.execute(text(f"DROP TRIGGER IF EXISTS {table}_no_update{on}"))
    lab.session.execute(text(statement))
    lab.session.commit()
    lab.session.expire_all()
