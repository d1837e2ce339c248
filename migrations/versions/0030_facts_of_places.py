"""How many people a room takes, who reaches it and what helps them there; heights, and how a place is left.

A booking may want one of several equal units.
"""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None

_WORDS = sa.String(length=300)
_ADDED = (
    ("rooms", "most_people", sa.Integer(), None, "for fire, everybody counted; empty: not stated"),
    ("rooms", "most_taught", sa.Integer(), None, "students of classes at once; empty: not stated"),
    ("rooms", "step_free", sa.String(length=40), "not stated", None),
    ("rooms", "helps", _WORDS, "", "what helps deaf or blind people"),
    ("stations", "lowest_cm", sa.Integer(), None, "height of the work surface, at its lowest"),
    ("stations", "highest_cm", sa.Integer(), None, "and at its highest, where it can be raised"),
    ("stations", "clean_down", _WORDS, "", "how it is left"),
    ("bookings", "wanted_number", sa.Integer(), None, "that unit and no other; empty: any"),
)


def upgrade() -> None:
    for table, name, kind, default, comment in _ADDED:
        column = sa.Column(name, kind, nullable=default is None, server_default=default, comment=comment)
        op.add_column(table, column)


def downgrade() -> None:
    for table, name, *_ in reversed(_ADDED):
        op.drop_column(table, name)
