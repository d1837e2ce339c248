"""Questions about baths in use: capacity, fixing, replenishing, washing and silver."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench import keeping, silver, washing
from labsys.bench.fields import CelsiusField, NumberField, WrittenVolumeField
from labsys.bench.forms import MINUTES_OF_A_DAY, Question, choice_field, count_field, volume_field
from labsys.bench.results import Answer
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Material, size_of
from labsys.chemistry.washing import Keeping
from labsys.labware.models import OwnedCylinder

_MATERIALS = [(str(material), MATERIAL_NAMES[material]) for material in Material]
_SIZES = [(key, key) for key in SIZES]
_FILM_SIZES = [(key, key) for key, size in SIZES.items() if size.is_film]


class _LoadQuestion(Question):
    """A question about pieces of one size of one material."""

    material = choice_field("Material", _MATERIALS)
    size = choice_field("Size", _SIZES)
    count = count_field("How many went through", 100_000)

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        size, material = size_of(key=self.size.data), Material(self.material.data)
        if not size.is_made_in(material):
            yield self.size, f"{size.key} is not made in {MATERIAL_NAMES[material]}. Choose another."


class Capacity(_LoadQuestion):
    key = "capacity"
    title = "What does this work do to a bath?"
    bath = volume_field("Working solution in the bath")
    units = NumberField(
        "A litre takes",
        low=0,
        high=500,
        above_low=True,
        default="20",
        description="Rolls, or sheets of 8x10 in, on its data sheet.",
    )

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return keeping.capacity(
            bath_ml=self.bath.ml,
            units_per_litre=self.units.value,
            size=size_of(key=self.size.data),
            material=Material(self.material.data),
            count=int(self.count.value),
        )


class Clearing(Question):
    key = "clearing"
    title = "Does the film fixer still fix?"
    fresh = NumberField("Film clears in fresh fixer in", low=0, high=3600, unit="s", above_low=True)
    now = NumberField("In this bath in", low=0, high=3600, unit="s", above_low=True)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return keeping.clearing(fresh_seconds=self.fresh.value, now_seconds=self.now.value)


class TwoBaths(Question):
    key = "two-baths"
    title = "Two fixing baths in turn"
    first = volume_field("Volume of the first bath")
    takes = NumberField(
        "A litre of the first bath takes",
        low=1,
        high=500,
        unit="sheets",
        default="50",
        description="Of 8x10 in; 50 of fibre paper for acid hardening hypo.",
    )
    sheets = NumberField(
        "Sheets fixed so far", low=0, high=100_000, whole=True, description="8x10 in, since both fresh."
    )

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.first.ml * self.takes.value < 1000:
            yield self.first, "So little does not take one whole sheet."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return keeping.two_bath_fixing(
            sheets=int(self.sheets.value), first_bath_ml=self.first.ml, sheets_per_litre=self.takes.value
        )


class Replenish(Question):
    key = "replenish"
    title = "How much replenisher?"
    rate = volume_field("Replenisher")
    rate_for = NumberField(
        "For so many", low=0, high=10_000, above_low=True, default="1", description="Rolls, or sheets of 8x10 in."
    )
    units = count_field("Gone through", 100_000)
    tank = volume_field("Volume of the tank")
    release = NumberField(
        "Bromide one gives off",
        low=0,
        high=1000,
        unit="mg",
        optional=True,
        description="If known, to see where the tank settles.",
    )

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.rate.ml / self.rate_for.value > self.tank.ml:
            yield self.rate, "For one alone that is more than the tank holds. Check it."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return keeping.replenish(
            rate_ml=self.rate.ml,
            rate_for=self.rate_for.value,
            tank_ml=self.tank.ml,
            units=int(self.units.value),
            release_mg=self.release.amount,
        )


class Wash(Question):
    key = "wash"
    title = "Is the film washed?"
    size = choice_field("Film", _FILM_SIZES, default="120")
    count = count_field("Rolls or sheets", 1000, default="1")
    fills = count_field("Fills", 100, default="4")
    volume = volume_field("Water of each fill")
    left = WrittenVolumeField(
        "Left after each dump", default="10 mL", description="In tank and film; 10 mL with one 135-36 in a small tank."
    )
    each = NumberField("Each stands", low=0, high=60, unit="min", default="2")
    minutes = NumberField("Or running for", low=0, high=MINUTES_OF_A_DAY, unit="min", default="10")
    flow = NumberField("At", low=0, high=100, unit="L/min", above_low=True, default="2")
    water = CelsiusField("Water is at", low=0, high=45, optional=True)
    keep = choice_field("Kept as", [(str(one), name) for one, name in washing.KEEPING_NAMES.items()])

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        held = washing.held_ml(size=size_of(key=self.size.data), count=int(self.count.value))
        if self.left.ml < held:
            yield self.left, f"The film alone holds {held:g} mL: enter at least that."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return washing.wash(
            size=size_of(key=self.size.data),
            count=int(self.count.value),
            fills=int(self.fills.value),
            fill_ml=self.volume.ml,
            left_ml=self.left.ml,
            minutes_per_fill=self.each.value,
            running_minutes=self.minutes.value,
            flow_ml_per_min=1000 * self.flow.value,
            water_celsius=self.water.amount,
            keeping=Keeping(self.keep.data),
        )


class Silver(_LoadQuestion):
    key = "silver"
    title = "How much silver is in the fixer?"
    bath = volume_field("Volume of the fixer")
    limit = NumberField("Your limit for discharge", low=0, high=20_000, unit="mg/L", above_low=True, optional=True)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        return silver.silver(
            size=size_of(key=self.size.data),
            material=Material(self.material.data),
            count=int(self.count.value),
            bath_ml=self.bath.ml,
            limit_mg_per_l=self.limit.amount,
        )
