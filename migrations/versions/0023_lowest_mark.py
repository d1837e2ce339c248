"""A measuring cylinder has a lowest mark, under which nothing is read; none where nobody has looked yet."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

LEAST = sa.Column("least_ul", sa.Integer(), comment="the lowest mark of its scale; none: not looked at")


def upgrade() -> None:
    with op.batch_alter_table("cylinders") as table:
        table.add_column(LEAST)
        table.create_check_constraint("least", "least_ul > 0")


def downgrade() -> None:
    with op.batch_alter_table("cylinders") as table:
        table.drop_constraint(op.f("ck_cylinders_least"), type_="check")
        table.drop_column("least_ul")
