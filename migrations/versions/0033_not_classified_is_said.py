"""That a product is not classified is said, as "not classified"; where its codes are empty, nobody has said.

What somebody confirmed against the SDS without codes was said to have none; the rest is not known.
"""

from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None

_OLD = "of the product as supplied, from its SDS; spaces between"
_NEW = "of the product as supplied, from its SDS, or: not classified; empty: not stated"


def upgrade() -> None:
    op.execute(
        """UPDATE products SET h_codes = 'not classified' WHERE h_codes = '' AND EXISTS (
            SELECT 1 FROM confirmations
            WHERE confirmations.product_id = products.id AND confirmations.version = products.version)"""
    )
    _comment(_NEW)


def downgrade() -> None:
    op.execute("UPDATE products SET h_codes = '' WHERE h_codes = 'not classified'")
    _comment(_OLD)


def _comment(words: str) -> None:
    if op.get_bind().dialect.name == "postgresql":  # SQLite keeps none
        op.execute(f"COMMENT ON COLUMN products.h_codes IS '{words}'")
