"""What the list of reference substances knows of ingredients being entered: where to begin, never the last word."""

from labsys.forms import filled
from labsys.hazards.exposure_limits import limits_of
from labsys.hazards.substances import Substance, all_substances
from labsys.hazards.tables import items_of
from labsys.products.forms.product import ATE_FIELDS, ProductForm
from labsys.products.rules import NOT_CLASSIFIED
from labsys.products.sheet import ATE_ROUTES

_FIELD_OF = {ATE_ROUTES[kept]: name for name, kept in ATE_FIELDS.items()}


def fill_in_known(form: ProductForm, *, nation: str) -> list[str]:
    """Fill what is still empty in rows of substances on the reference list, found by CAS number or by name.

    Workplace limits are those of the nation. Returns their names. The values are where to begin: the supplier's SDS is
    what counts.
    """
    names = []
    for row in filled(form.ingredients):
        known = _known(cas=row.cas.data or "", name=row.name.data or "")
        if known is None:
            continue
        texts = {**_reference_texts(known), "workplace_limit": _workplace_limit(known.cas, nation=nation)}
        for field, text in texts.items():
            row[field].data = row[field].data or text
        names.append(known.name)
    return names


def reference_note(*, cas: str, classification: str, specific_limits: str) -> str:
    """Say of an ingredient that it still carries the values of the reference list, or an empty text."""
    known = _known(cas=cas, name="") if cas else None
    listed = _reference_texts(known) if known else {}
    entered = {"classification": classification, "specific_limits": specific_limits}
    if known is None or any(set(items_of(listed[name])) != set(items_of(text)) for name, text in entered.items()):
        return ""
    minimum = "".join(
        f" {hazard} is a minimum classification: where the SDS has worse, that counts." for hazard in known.minimum
    )
    told = f"as on the reference list, confidence {known.confidence}. {known.basis}. {known.where_from}".rstrip(". ")
    return f"To be confirmed against the SDS: {told}.{minimum}"


def _known(*, cas: str, name: str) -> Substance | None:
    return next(
        (known for known in all_substances() if cas == known.cas or (not cas and _is_called(known, name))), None
    )


def _is_called(known: Substance, name: str) -> bool:
    """Whether a name is that of the list, its explanation in brackets left out or not, or a usual short name."""
    full = known.name.casefold()
    return name.casefold() in (full, full.partition(" (")[0], *(short.casefold() for short in known.short_names))


def _workplace_limit(cas: str, *, nation: str) -> str:
    """The limit on file, by mass where it is, with where it is from; empty where none is."""
    limits = sorted(limits_of(cas, nation=nation) or (), key=lambda limit: limit.unit != "mg/m³")
    return "".join(f"{limit.in_words} ({limit.edition.partition(',')[0]}, {limit.known})" for limit in limits[:1])


def _reference_texts(known: Substance) -> dict[str, str]:
    return {
        "name": known.name,
        "cas": known.cas,
        "classification": "; ".join([*map(str, known.classes), *known.euh]) or NOT_CLASSIFIED,
        "specific_limits": "; ".join(map(str, known.limits)),
        "m_acute": f"{known.m_acute:g}" if known.m_acute else "",
        "m_chronic": f"{known.m_chronic:g}" if known.m_chronic else "",
        **{_FIELD_OF[ate.route]: f"{ate.value:g}" for ate in known.ates},
    }
