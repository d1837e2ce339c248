"""The day the demonstration's store was put in order: sheets kept, shelves named, an interim approval given."""

from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.products import queries as products
from labsys.products import safety
from labsys.products.models import Product
from labsys.store import queries as store
from labsys.store import service as store_service
from labsys.store.models import ShelfKind
from labsys.timetable.local_time import day_words

_INVENTED = "Invented sheet for the demonstration. No such product and no such supplier exist."


def put_in_order(play: Play, told: Entry) -> None:
    """Keep the sheets, approve one product for a while, and say where the bottles stand."""
    for row in told["sheet"]:
        product = products.product_or_raise(play.session, play.ids[f"product {row['product']}"])
        assert product.sds_date is not None  # noqa: S101 - each product of the demonstration has one
        entry = safety.SheetEntry(
            content=invented_sheet(product, revision=row["revision"]),
            issued_on=product.sds_date,
            supplier=product.supplier,
            language="English",
            revision=row["revision"],
            review_due=play.day(row["review_due_days_ago"]) if "review_due_days_ago" in row else None,
        )
        safety.add_data_sheet(play.act(told["by"]), product_id=product.id, entry=entry)
    interim = told["interim"]
    safety.approve_interim(
        play.act(interim["by"]),
        product_id=play.ids[f"product {interim['product']}"],
        reason=interim["reason"],
        last_day=play.day(told["days_ago"] - interim["lasts_days"]),
    )
    for row in told["shelf"]:
        kind = ShelfKind(row["kind"])
        shelf = store_service.add_shelf(play.act(told["by"]), name=row["name"], kind=kind, room_id=None)
        product_ids = [play.ids[f"product {key}"] for key in row["products"]]
        for bottle_id in [
            bottle.id for product_id in product_ids for bottle in store.bottles(play.session, product_id=product_id)
        ]:
            store_service.put_on_shelf(play.act(told["by"]), bottle_id=bottle_id, shelf_id=shelf.id)


def invented_sheet(product: Product, *, revision: str) -> bytes:
    """Draw a one-page sheet that says of itself that it is invented. Equal products, equal bytes."""
    buffer = BytesIO()
    page = Canvas(buffer, pagesize=A4, invariant=1)
    page.setTitle(f"SDS of {product.name}, invented")
    top = A4[1] - 25 * mm
    page.setFont("Helvetica-Bold", 14)
    page.drawString(20 * mm, top, "Safety data sheet")
    lines = [
        _INVENTED,
        "",
        f"1. Product: {product.name}. Supplier: {product.supplier}.",
        f"    Issued {day_words(product.sds_date) if product.sds_date else ''}, {revision}.",
        f"2. Hazards: {product.h_codes}",
        "3. Ingredients:",
        *(
            f"    {row.name}, CAS {row.cas}, up to {row.high_ppm / 10_000:g} %: {row.classification or 'no class'}"
            for row in product.ingredients
        ),
    ]
    page.setFont("Helvetica", 9)
    for number, line in enumerate(lines, 1):
        page.drawString(20 * mm, top - number * 6 * mm, line[:115])
    page.save()
    return buffer.getvalue()
