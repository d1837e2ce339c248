"""Who has to be there may be somebody who holds a competence."""

import sqlalchemy as sa
from alembic import op

revision = "0056"
down_revision = "0055"
branch_labels = None
depends_on = None

NAME = "ck_staffing_rules_one_who"
ONE = (
    "(CASE WHEN role IS NULL THEN 0 ELSE 1 END) + (CASE WHEN induction_id IS NULL THEN 0 ELSE 1 END)"
    " + (CASE WHEN competence IS NULL THEN 0 ELSE 1 END) <= 1"
)


def upgrade() -> None:
    with op.batch_alter_table("staffing_rules") as table:
        table.add_column(
            sa.Column("competence", sa.String(40), nullable=True, comment="somebody who holds this has to be there")
        )
        table.drop_constraint(op.f(NAME), type_="check")
        table.create_check_constraint(op.f(NAME), ONE)


def downgrade() -> None:
    op.execute("DELETE FROM staffing_rules WHERE competence IS NOT NULL")
    with op.batch_alter_table("staffing_rules") as table:
        table.drop_constraint(op.f(NAME), type_="check")
        table.create_check_constraint(op.f(NAME), "role IS NULL OR induction_id IS NULL")
        table.drop_column("competence")
