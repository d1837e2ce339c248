"""What people do for the forecast: say in which sizes a product is sold."""

from collections.abc import Sequence

from sqlalchemy import delete, select

from labsys.database import DbSession
from labsys.forecast.models import Pack
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.products import queries as products
from labsys.products.models import Product


def packs_of(session: DbSession, product_id: int) -> list[int]:
    """The sizes that a product is sold in, as entered, the smallest first; in its own unit."""
    query = select(Pack.amount).where(Pack.product_id == product_id).order_by(Pack.amount)
    return list(session.execute(query).scalars())


@act
def set_packs(act: Act, *, product_id: int, sizes: Sequence[int]) -> Product:
    """Keep the sizes that a product is sold in, in its own unit; none: those count in which it came before.

    Raises NotPermitted or NotFound.
    """
    require(act.actor, Permission.KEEP_STOCK)
    product = products.product_or_raise(act.session, product_id)
    before, after = packs_of(act.session, product_id), sorted(set(sizes))
    if before == after:
        return product
    act.session.execute(delete(Pack).where(Pack.product_id == product_id))
    act.session.add_all(Pack(product_id=product_id, amount=amount) for amount in after)
    act.tell("product.packs_set", about=product, facts={"before": before, "after": after})
    return product
