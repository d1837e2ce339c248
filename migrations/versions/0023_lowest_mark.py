"""A measuring cylinder has a lowest mark, under which nothing is read; none where nobody has looked yet."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

COMMENT = "the lowest mark of its scale; none: not looked at"


def upgrade() -> None:
    with op.batch_alter_table("cylinders") as table:
        table.add_column(
            sa.Column(
                "least_ul", sa.Integer(), nullable=True, comment="the lowest mark of its scale; none: not looked at"
            )
        )
        table.create_check_constraint("ck_cylinders_least", "least_ul > 0")


def downgrade() -> None:
    with op.batch_alter_table("cylinders") as table:
        table.drop_constraint("ck_cylinders_least", type_="check")
        table.drop_column("least_ul")
