"""The density a product is taken to have where its SDS states none: bounds for each kind, the heavier the worse."""

from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.hazards.density import Density, assumed_density
from labsys.hazards.spans import Span

# From memory, no source, and wide: solutions in alcohol or ammonia lie below 1, strong salts far above.
_BOUNDS = {
    SolutionKind.DEVELOPER: Span(1.00, 1.45),
    SolutionKind.STOP: Span(1.00, 1.30),
    SolutionKind.FIXER: Span(1.00, 1.45),
    SolutionKind.WASH_AID: Span(0.90, 1.35),
    SolutionKind.WETTING_AGENT: Span(0.78, 1.15),
    SolutionKind.TONER: Span(0.88, 1.50),
    SolutionKind.BLEACH: Span(1.00, 1.50),
    SolutionKind.BLEACH_FIX: Span(1.00, 1.45),
    SolutionKind.STABILISER: Span(0.78, 1.20),
    SolutionKind.COATING: Span(0.78, 1.60),
}


def density_of_kind(kind: SolutionKind) -> Density:
    """Return the bounds for a kind of product, named as the assumption they are."""
    return assumed_density(_BOUNDS[kind], of=f"a {KIND_NAMES[kind]}")
