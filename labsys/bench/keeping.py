"""Baths in use at the bench: capacity used, the clearing test, two fixing baths in turn, and replenishing."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from wtforms import Field

from labsys.bench.fields import NumberField, SecondsField
from labsys.bench.forms import LoadQuestion, Question, count_field, volume_field
from labsys.bench.results import Answer, Figure, Rows, ml, number, percent, source_of
from labsys.chemistry.bath_rules import AreaCapacity, BathFacts, ClearingTest
from labsys.chemistry.fixing import MOST_TURNS, fixing_seconds, two_baths
from labsys.chemistry.life import STATE_NAMES, State, life_of
from labsys.chemistry.published_limits import CAPACITIES
from labsys.chemistry.replenishment import (
    after_batches_g_per_l,
    after_units_g_per_l,
    rate_ml_per_unit,
    settles_at_g_per_l,
    turnover_share,
)
from labsys.chemistry.sizes import MATERIAL_NAMES, Material, area_of_units_mm2, load_of
from labsys.chemistry.spread import spread
from labsys.labware.models import OwnedCylinder
from labsys.quantities import counted, duration


def _measured_to() -> NumberField:
    return NumberField("Volumes good to ±", low=0, high=50, unit="%", default="5")


class Capacity(LoadQuestion):
    """What a load does to a bath of a known capacity."""

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
    error = _measured_to()

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        size, material, count = self.work
        bath_ml, units_per_litre = self.bath.ml, self.units.value
        rule = AreaCapacity(material, area_of_units_mm2(units=Fraction(units_per_litre)), "as entered here")
        load = load_of(size=size, material=material, count=count)
        life = life_of(
            facts=BathFacts(materials=frozenset({material}), total_ul=round(bath_ml * 1000), used=load, areas=(rule,))
        )
        used, whole = load.area_mm2(material) / 1e6, rule.mm2_per_litre * bath_ml / 1000 / 1e6
        left = life.remaining_pieces(size=size, material=material)
        low, high = spread(
            lambda volume: used / (volume * whole / bath_ml),
            values={"volume": bath_ml},
            errors={"volume": self.error.value / 100 * bath_ml},
        )
        return Answer(
            figures=(
                Figure(f"{100 * used / whole:.0f} %", "of its life used", STATE_NAMES[life.state]),
                Figure(str(max(0, left or 0)), f"more of {size.key}"),
            ),
            formula=(
                f"{count} × {size.area_mm2 / 1e6:.4f} m² = {used:.3f} m², of {number(units_per_litre)} × 0.0516 m² × "
                f"{number(bath_ml / 1000)} L = {whole:.3f} m²",
            ),
            source=(source_of(area_of_units_mm2), source_of(load_of)),
            margin=f"{100 * low:.0f} to {100 * high:.0f} % for a volume good to ± {number(self.error.value)} %.",
            warnings=("That is more than it takes: some of it was not fixed or developed to the end.",)
            if life.state is State.EXHAUSTED and used > whole
            else (),
            remarks=(
                f"One unit is a 135-36, a 120 or a sheet of 8x10 in, here of {MATERIAL_NAMES[material]}. "
                "The maker's data sheet comes first.",
                "By the work alone: how long it has stood counts as well.",
            ),
            tables=(
                Rows(
                    "Capacities as published",
                    ("Bath", "Per litre", "Source"),
                    tuple((limit.bath, number(limit.units_per_litre), limit.source) for limit in CAPACITIES),
                ),
            ),
        )


class Clearing(Question):
    """What a clearing test says of a film fixer, and how long to fix in it."""

    key = "clearing"
    title = "Does the film fixer still fix?"
    fresh = SecondsField("Film clears in fresh fixer in", low=0, high=3600, above_low=True)
    now = SecondsField("In this bath in", low=0, high=3600, above_low=True)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        fresh, now = self.fresh.value, self.now.value
        test = ClearingTest(fresh, now)
        life = life_of(facts=BathFacts(materials=frozenset({Material.FILM}), total_ul=1, checks=(test,)))
        least = fixing_seconds(clearing_seconds=now)
        is_spent = now >= 2 * fresh
        verdict = STATE_NAMES[State.EXHAUSTED if is_spent else life.state]
        return Answer(
            figures=(
                Figure(verdict, f"{now / fresh:.1f} times as slow as fresh"),
                *(() if is_spent else (Figure(duration(round(least)), "least fixing time"),)),
            ),
            formula=(
                f"Exhausted at 2 × {number(fresh)} s = {number(2 * fresh)} s; now {number(now)} s",
                f"Fix for 2 × {number(now)} s = {number(least)} s or more",
            ),
            source=(test.source, source_of(fixing_seconds)),
            warnings=("Discard it: film fixed in it would not keep.",) if is_spent else (),
            remarks=("Test with the film in use. For prints clearing cannot be seen: count them.",),
        )


class TwoBaths(Question):
    """Where a pair of fixing baths stands, and what to do next."""

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
        sheets, first_ml, takes = self.sheets.count, self.first.ml, self.takes.value
        pair = two_baths(sheets=sheets, first_bath_ml=first_ml, sheets_per_litre=takes)
        if pair.renew_both:
            figures: tuple[Figure, ...] = (Figure("Renew both", "the pair has had its three turns"),)
        else:
            figures = (
                Figure(str(pair.left_in_first), "more sheets before the next turn"),
                Figure(f"{pair.turns} of {MOST_TURNS}", "turns taken"),
            )
        return Answer(
            figures=figures,
            formula=(
                f"{number(first_ml / 1000)} L × {number(takes)} = {number(first_ml / 1000 * takes)} sheets of 8x10 in "
                "a turn",
                f"{counted(sheets, 'sheet')} = {counted(pair.turns, 'turn')}, and {pair.left_in_first} left to the "
                "next",
            ),
            source=(source_of(two_baths),),
            remarks=(
                "At each turn discard the first bath, move the second to its place, and mix a fresh second.",
                "Half the fixing time in each. Sizes count by area: four of 4x5 in are one of 8x10 in.",
            ),
        )


class Replenish(Question):
    """Replenisher for a number of units, and how far the tank has turned over."""

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
    error = _measured_to()

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if self.rate.ml / self.rate_for.value > self.tank.ml:
            yield self.rate, "For one alone that is more than the tank holds. Check it."

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        rate_ml, rate_for, tank_ml, units = self.rate.ml, self.rate_for.value, self.tank.ml, self.units.count
        per_unit = rate_ml_per_unit(volume_ml=rate_ml, area_mm2=rate_for * float(area_of_units_mm2(units=1)))
        total = per_unit * units
        share = percent(turnover_share(rate_ml=per_unit, tank_ml=tank_ml, units=units))
        figures = [Figure.of_ml(total, f"replenisher for {units}"), Figure(share, "of the way to a steady state")]
        formula = [
            f"{number(rate_ml)} mL ÷ {number(rate_for)} × {units} = {ml(total)}",
            f"1 − exp(−{ml(total)} ÷ {ml(tank_ml)}) = {share}",
        ]
        if (release_mg := self.release.amount) is not None:
            end = settles_at_g_per_l(release_mg=release_mg, rate_ml=per_unit)
            now = after_batches_g_per_l(
                start_g_per_l=0, release_mg=release_mg, rate_ml=per_unit, tank_ml=tank_ml, units=units
            )
            figures.append(Figure(f"{now:.2f} g/L", "bromide now", f"Settles at {end:.2f} g/L."))
            formula.append(f"{number(release_mg)} mg ÷ {per_unit:.1f} mL = {end:.2f} g/L in the end")
        is_too_much = total > tank_ml
        off = self.error.value / 100
        low, high = spread(
            lambda rate, tank: turnover_share(rate_ml=rate, tank_ml=tank, units=units),
            values={"rate": per_unit, "tank": tank_ml},
            errors={"rate": off * per_unit, "tank": off * tank_ml},
        )
        return Answer(
            figures=tuple(figures),
            formula=tuple(formula),
            source=(source_of(after_units_g_per_l), source_of(settles_at_g_per_l)),
            margin=f"{ml(total * (1 - off))} to {ml(total * (1 + off))}, and {percent(low)} to {percent(high)} of the "
            f"way, for volumes good to ± {number(self.error.value)} %.",
            warnings=("That is more than the tank holds at once: replenish in smaller steps.",) if is_too_much else (),
            remarks=("An estimate for a well-mixed tank. The maker's rate and a control strip come first.",),
        )
