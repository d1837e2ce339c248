"""Silver at the bench: an estimate of what a used fixer holds, beside the limits that authorities have published."""

from collections.abc import Sequence

from labsys.bench.fields import NumberField
from labsys.bench.forms import LoadQuestion, volume_field
from labsys.bench.results import Answer, Figure, Rows, number, source_of
from labsys.chemistry.published_limits import SILVER_LIMITS
from labsys.chemistry.ranges import Range
from labsys.chemistry.silver import (
    FILM_G_PER_M2,
    PAPER_G_PER_M2,
    PART_DISSOLVED,
    silver_concentration_g_per_l,
    silver_into_fixer_g,
)
from labsys.chemistry.sizes import Material, load_of
from labsys.labware.models import OwnedCylinder


class Silver(LoadQuestion):
    """The silver in a fixer after a load, estimated and compared with limits for discharge."""

    key = "silver"
    title = "How much silver is in the fixer?"
    bath = volume_field("Volume of the fixer")
    limit = NumberField("Your limit for discharge", low=0, high=20_000, unit="mg/L", above_low=True, optional=True)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        size, material, count = self.work
        load = load_of(size=size, material=material, count=count)
        mass = silver_into_fixer_g(load=load)
        strength = silver_concentration_g_per_l(silver_g=mass, bath_ml=self.bath.ml)
        coating = FILM_G_PER_M2 if material is Material.FILM else PAPER_G_PER_M2
        area = load.area_mm2(material) / 1e6
        limits = [(limit.where, limit.mg_per_litre, limit.source) for limit in SILVER_LIMITS]
        if self.limit.amount is not None:
            limits.insert(0, ("your own authority", self.limit.amount, "as entered here"))
        return Answer(
            figures=(
                Figure(f"{_span(mass, 1)} g", "of silver, estimated", f"Typically {mass.typical:.2f} g."),
                Figure(f"{_span(strength, 1)} g/L", "in the bath", f"Typically {1000 * strength.typical:.0f} mg/L."),
            ),
            formula=(
                f"{area:.3f} m² × {number(coating.typical)} g/m² × {number(PART_DISSOLVED.typical)} = "
                f"{mass.typical:.3f} g",
                f"{mass.typical:.3f} g ÷ {number(self.bath.ml / 1000)} L = {strength.typical:.3f} g/L",
            ),
            source=(source_of(silver_into_fixer_g), source_of(silver_concentration_g_per_l)),
            margin=f"Somewhere from {mass.low:.2f} to {mass.high:.2f} g. An estimate, never a measurement.",
            warnings=("Used fixer goes into its waste container, not into the sink.",),
            remarks=(
                f"Assumed: {_span(coating, 1)} g/m² coated, {_span(PART_DISSOLVED, 100)} % of it dissolved, nothing "
                "carried out on film. Whether any of it may be discharged is for the sewerage undertaker to say.",
            ),
            tables=(
                Rows(
                    "Beside published limits for discharge",
                    ("Where", "Limit", "This bath", "Source"),
                    tuple(
                        (where, f"{number(limit)} mg/L", _against(strength, limit), source)
                        for where, limit, source in limits
                    ),
                ),
            ),
        )


def _against(strength: Range, limit_mg_per_l: float) -> str:
    """Where an estimate stands to a limit: even its low end over it, or only its high end, or neither."""
    if 1000 * strength.low > limit_mg_per_l:
        return f"over, some {float(f'{1000 * strength.typical / limit_mg_per_l:.2g}'):.0f} times"
    return "may be over" if 1000 * strength.high > limit_mg_per_l else "below, by this estimate"


def _span(values: Range, scale: float) -> str:
    return f"{scale * values.low:.2g} to {scale * values.high:.2g}"
