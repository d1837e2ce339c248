"""The stop bath at the bench: how much of its acid is used up, by its pH."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench.fields import NumberField
from labsys.bench.forms import Question, choice_field
from labsys.bench.results import Answer, Figure, number, percent, source_of
from labsys.chemistry.acidity import ACETIC, CITRIC, base_taken_up, ph_of
from labsys.labware.models import OwnedCylinder

ACIDS = {"acetic": ACETIC, "citric": CITRIC}
SPENT_AT_PH = 5.8  # P. Glafkides, Physique et chimie photographique, chapter on stop baths
YELLOW_BELOW_PH, PURPLE_ABOVE_PH = 5.2, 6.8  # bromocresol purple: two indicator tables
PH_ERROR = 0.3  # a test paper: common practice, no source


class Stop(Question):
    """Acid left in a stop bath, from its strength when fresh and its pH now."""

    key = "stop"
    title = "Does the stop bath still stop?"
    acid = choice_field("Acid", [(key, acid.name) for key, acid in ACIDS.items()])
    strength = NumberField(
        "Acid in a litre when fresh",
        low=0,
        high=100,
        unit="g",
        above_low=True,
        default="15",
        description="Of pure acid.",
    )
    now = NumberField("pH now", low=0, high=14, description="With a meter or paper.")
    error = NumberField("Read to ±", low=0, high=2, unit="pH", default=f"{PH_ERROR:g}")

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        fresh = self._fresh_ph
        if self.now.value < fresh - self.error.value:
            yield self.now, f"Fresh it is at pH {fresh:.1f}: a lower reading belongs to a stronger bath."

    @property
    def _fresh_ph(self) -> float:
        return ph_of(acid=ACIDS[self.acid.data], grams_per_litre=self.strength.value)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        acid, grams, now, fresh = ACIDS[self.acid.data], self.strength.value, self.now.value, self._fresh_ph
        whole = base_taken_up(acid=acid, grams_per_litre=grams, ph=max(fresh, SPENT_AT_PH))
        used, low, high = (
            base_taken_up(acid=acid, grams_per_litre=grams, ph=min(14.0, max(fresh, ph))) / whole if whole else 1.0
            for ph in (now, now - self.error.value, now + self.error.value)
        )
        is_spent = now + self.error.value > SPENT_AT_PH
        verdict = "Exhausted" if now > SPENT_AT_PH else "Near its end" if is_spent else "Stops"
        return Answer(
            figures=(
                Figure(verdict, f"at pH {number(now)}", f"It stops up to pH {SPENT_AT_PH}."),
                Figure(percent(used), f"of what it takes up to pH {SPENT_AT_PH}", f"Fresh it is at pH {fresh:.1f}."),
            ),
            formula=(
                f"Up to pH {SPENT_AT_PH} a litre takes up {whole:.3f} mol of alkali; up to pH {number(now)} it has "
                f"taken up {whole * used:.3f} mol",
                f"{whole * used:.3f} ÷ {whole:.3f} = {percent(used)}",
            ),
            source=(
                source_of(base_taken_up),
                "pH 5.8 at most: P. Glafkides, Physique et chimie photographique, chapter on stop baths",
                "Colours of the indicator: two indicator tables",
            ),
            margin=f"{percent(low)} to {percent(high)} for a pH read to ± {number(self.error.value)}.",
            warnings=("Mix a fresh one: in this the developer goes on working, and the fixer suffers.",)
            if is_spent
            else (),
            remarks=(
                f"An indicator of bromocresol purple is yellow below pH {YELLOW_BELOW_PH} and purple above "
                f"{PURPLE_ABOVE_PH}: its first change warns, full purple is too late.",
                "An estimate for acid and alkali alone, to about 0.1 pH.",
            ),
        )
