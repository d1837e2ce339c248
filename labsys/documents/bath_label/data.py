"""What the label of a bath says: the page and the PDF are both made from it."""

from dataclasses import dataclass

from labsys.documents.page import Issue
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.first_aid import ON_A_LABEL
from labsys.hazards.label import NOT_CLASSIFIED
from labsys.waste.meeting import Apart

PROTECT_SKIN = "Protect your skin"
NO_CLASS = "No hazard class by calculation"
ESTIMATE = "Estimate: hazards worked out for this dilution from the concentrate's SDS. The SDS comes first."


@dataclass(frozen=True, slots=True)
class LabelIngredient:
    """A hazardous ingredient of the working solution; `share` is in words, "4.2 % w/w"."""

    named: str
    share: str


@dataclass(frozen=True, slots=True)
class BathLabelData:
    """All that a bath's label prints; every text is ready to print, every list in the order to print it.

    `statements` are the H and EUH statements in full, `precautions` the P statements. `classified` is false when the
    dilution works out as not hazardous: the label then says so in words, and still prints every statement given.
    `not_known` tells what nobody stated, and what was assumed. `skin_protection` is what the hazards ask for on the
    hands, empty where they ask for nothing; `protective_equipment` is everything else. Of `emergency`, at least one
    line, the first is set in heavier type. `capacity` is what it takes when fresh; `when_printed` how good it was when
    the label was made. `apart` tells on the page in full what `keep_from` says in short.
    """

    issue: Issue
    product: str
    dilution: str
    volume: str
    place: str
    made_from: str
    mixed_at: str
    mixed_by: str
    use_by: str
    capacity: str
    when_printed: str
    classified: bool
    pictograms: tuple[Pictogram, ...] = ()
    signal_word: str = ""
    statements: tuple[str, ...] = ()
    precautions: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()
    ingredients: tuple[LabelIngredient, ...] = ()
    skin_protection: str = ""
    protective_equipment: tuple[str, ...] = ()
    keep_from: tuple[str, ...] = ()
    waste: str = ""
    waste_code: str = ""
    emergency: tuple[str, ...] = ON_A_LABEL
    apart: tuple[Apart, ...] = ()

    @property
    def headline(self) -> str:
        """The first thing to be seen of the hazards: a bath that needs gloves never leads with how mild it is."""
        if self.signal_word:
            return self.signal_word
        if self.skin_protection:
            return PROTECT_SKIN
        return "" if self.classified else NO_CLASS

    @property
    def under_headline(self) -> tuple[str, ...]:
        """What the headline means: how to protect the skin, and that the calculation alone would not ask for it."""
        if self.headline != PROTECT_SKIN:
            return ()
        return (self.skin_protection,) if self.classified else (self.skin_protection, NOT_CLASSIFIED)

    @property
    def wear(self) -> tuple[str, ...]:
        """What to wear and use, hands first, less what stands under the headline."""
        said = not self.skin_protection or self.headline == PROTECT_SKIN
        return self.protective_equipment if said else (self.skin_protection, *self.protective_equipment)
