"""Data sheets, interim approvals, chosen readings, accepted restrictions, shelves."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.String(27).with_variant(sa.TIMESTAMP(timezone=True), "postgresql")
WORD = sa.String(40)


def upgrade() -> None:
    op.create_table(
        "sheet_contents",
        sa.Column("digest", sa.String(length=64), nullable=False, comment="SHA-256 of content"),
        sa.Column("size", sa.BigInteger(), nullable=False, comment="bytes"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("size > 0", name=op.f("ck_sheet_contents_size")),
        sa.PrimaryKeyConstraint("digest", name="pk_sheet_contents"),
    )
    op.create_table(
        "data_sheets",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False, comment="issue or revision date printed on it"),
        sa.Column(
            "review_due", sa.Date(), nullable=False, comment="the lab's choice: from then it asks for a newer one"
        ),
        sa.Column("supplier", sa.String(length=120), nullable=False, comment="as the sheet names it"),
        sa.Column("language", sa.String(length=60), nullable=False),
        sa.Column("revision", sa.String(length=60), nullable=False),
        sa.Column("added_at", INSTANT, nullable=False),
        sa.Column("added_by_id", ID, nullable=False),
        sa.CheckConstraint("review_due > issued_on", name=op.f("ck_data_sheets_review_due")),
        sa.ForeignKeyConstraint(["added_by_id"], ["people.id"], name="fk_data_sheets_added_by_id"),
        sa.ForeignKeyConstraint(["digest"], ["sheet_contents.digest"], name="fk_data_sheets_digest"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_data_sheets_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_data_sheets"),
        sa.UniqueConstraint("product_id", "digest", name="uq_data_sheets_product_id_digest"),
    )
    op.create_table(
        "interim_approvals",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("approved_at", INSTANT, nullable=False),
        sa.Column("approved_by_id", ID, nullable=False),
        sa.CheckConstraint("first_day <= last_day", name=op.f("ck_interim_approvals_days")),
        sa.ForeignKeyConstraint(["approved_by_id"], ["people.id"], name="fk_interim_approvals_approved_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_interim_approvals_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_interim_approvals"),
    )
    op.create_index("ix_interim_approvals_product_id", "interim_approvals", ["product_id"])
    op.create_table(
        "hazard_choices",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("water_parts_milli", sa.BigInteger(), nullable=False),
        sa.Column("rule", sa.String(length=80), nullable=False),
        sa.Column("outcome", sa.String(length=300), nullable=False, comment="what the other rule gives"),
        sa.Column(
            "takes_alternative", sa.Boolean(), nullable=False, comment="whether the other rule's outcome was chosen"
        ),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("chosen_at", INSTANT, nullable=False),
        sa.Column("chosen_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["chosen_by_id"], ["people.id"], name="fk_hazard_choices_chosen_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_hazard_choices_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_hazard_choices"),
    )
    op.create_index("ix_hazard_choices_product_id", "hazard_choices", ["product_id"])
    op.create_table(
        "accepted_restrictions",
        sa.Column("id", ID, nullable=False),
        sa.Column("product_id", ID, nullable=False),
        sa.Column("item", sa.String(length=60), nullable=False, comment="key in the table of restricted things"),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("accepted_at", INSTANT, nullable=False),
        sa.Column("accepted_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["accepted_by_id"], ["people.id"], name="fk_accepted_restrictions_accepted_by_id"),
        sa.ForeignKeyConstraint(["product_id"], ["products.id"], name="fk_accepted_restrictions_product_id"),
        sa.PrimaryKeyConstraint("id", name="pk_accepted_restrictions"),
        sa.UniqueConstraint("product_id", "item", name="uq_accepted_restrictions_product_id_item"),
    )
    op.create_table(
        "store_rules",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sds_rule", WORD, nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_store_rules_only_one")),
        sa.PrimaryKeyConstraint("id", name="pk_store_rules"),
    )
    op.create_table(
        "shelves",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("kind", WORD, nullable=False),
        sa.Column("room_id", ID, nullable=True),
        sa.ForeignKeyConstraint(["room_id"], ["rooms.id"], name="fk_shelves_room_id"),
        sa.PrimaryKeyConstraint("id", name="pk_shelves"),
        sa.UniqueConstraint("name", name="uq_shelves_name"),
    )
    op.create_table(
        "bottle_places",
        sa.Column("id", ID, nullable=False),
        sa.Column("bottle_id", ID, nullable=False),
        sa.Column("shelf_id", ID, nullable=False),
        sa.Column("placed_at", INSTANT, nullable=False),
        sa.Column("placed_by_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottles.id"], name="fk_bottle_places_bottle_id"),
        sa.ForeignKeyConstraint(["placed_by_id"], ["people.id"], name="fk_bottle_places_placed_by_id"),
        sa.ForeignKeyConstraint(["shelf_id"], ["shelves.id"], name="fk_bottle_places_shelf_id"),
        sa.PrimaryKeyConstraint("id", name="pk_bottle_places"),
        sa.UniqueConstraint("bottle_id", name="uq_bottle_places_bottle_id"),
    )
    op.create_index("ix_bottle_places_shelf_id", "bottle_places", ["shelf_id"])


def downgrade() -> None:
    for table in (
        "bottle_places",
        "shelves",
        "store_rules",
        "accepted_restrictions",
        "hazard_choices",
        "interim_approvals",
        "data_sheets",
        "sheet_contents",
    ):
        op.drop_table(table)
