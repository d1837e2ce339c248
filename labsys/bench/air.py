"""The air at the bench: what evaporates from trays beside the workplace limit, and what a wrong pair would set free."""

from collections.abc import Sequence

from labsys.bench.fields import CelsiusField, NumberField
from labsys.bench.forms import Question, choice_field, count_field
from labsys.bench.results import Answer, Figure, Rows, number, rough, source_of
from labsys.chemistry.volumes import USUAL_TRAYS
from labsys.hazards.exposure import (
    air_changes_per_hour,
    evaporation_mg_h,
    ppm_from_mg_m3,
    pressure_over_solution_pa,
    room_level_mg_m3,
)
from labsys.hazards.exposure_limits import limits_of
from labsys.hazards.first_aid import OUT, STAY_OUT
from labsys.hazards.gases import Release, chlorine_from_bleach, in_closed_room, with_acid, with_alkali
from labsys.hazards.incompatibility import EXAMPLES, Group, conflict
from labsys.hazards.nations import Nation
from labsys.hazards.substances import substance
from labsys.labware.models import OwnedCylinder

EVAPORATES = {"64-19-7": "acetic acid", "64-17-5": "ethanol", "67-63-0": "propan-2-ol"}
TYPICAL_MIXING, WORST_MIXING = 0.5, 0.1  # of air in a room: US EPA, from memory
AIR_M_S = 0.1  # over a tray in a room with extraction: common practice, no source
BLEACH_G_PER_L = 50.0  # available chlorine of ordinary household bleach: common practice, no source
FREES_GAS = {
    "acid 7757-83-7": "sodium sulfite, with acid",
    "acid 7681-57-4": "sodium metabisulfite, with acid",
    "acid 10102-17-7": "sodium thiosulfate, with acid",
    "acid 7783-18-8": "ammonium thiosulfate, with acid",
    "acid 1313-82-2": "sodium sulfide, with acid",
    "alkali 7783-18-8": "ammonium thiosulfate, with strong alkali",
    "bleach": "household bleach, with acid (millilitres)",
}


class Air(Question):
    """What evaporates from trays, and the level in the room beside the workplace exposure limit."""

    key = "air"
    title = "What gets into the air from the trays?"
    what = choice_field("Evaporates", EVAPORATES.items())
    content = NumberField("Content of the bath", low=0, high=100, unit="%", above_low=True, default="2")
    tray = choice_field("Tray", [(tray.key, tray.key) for tray in USUAL_TRAYS])
    trays = count_field("How many", 100, default="1")
    celsius = CelsiusField("Bath is at", low=0, high=60, default="20")
    room = NumberField("Volume of the room", low=1, high=100_000, unit="m³")
    flow = NumberField(
        "Air drawn out",
        low=0,
        high=1_000_000,
        unit="m³/h",
        above_low=True,
        description="By the last test of the extraction. Not known is no answer: have it measured.",
    )
    nation = choice_field("Limits of", [(str(nation), str(nation)) for nation in Nation])

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        evaporating = substance(self.what.data)
        molar, pure = evaporating.molar_mass_g_mol or 0.0, evaporating.vapour_pressure_pa_20c or 0.0
        tray = next(tray for tray in USUAL_TRAYS if tray.key == self.tray.data)
        area = self.trays.count * tray.length_mm * tray.width_mm / 1e6
        pressure = pressure_over_solution_pa(pure_pa=pure, content_percent=self.content.value, molar_mass_g_mol=molar)
        emitted = evaporation_mg_h(
            vapour_pressure_pa=pressure,
            molar_mass_g_mol=molar,
            area_m2=area,
            air_m_s=AIR_M_S,
            celsius=self.celsius.value,
        )
        changes = air_changes_per_hour(air_flow_m3_h=self.flow.value, room_m3=self.room.value)
        typical, worst = (
            room_level_mg_m3(emission_mg_h=emitted, room_m3=self.room.value, changes_per_hour=changes, mixing=mixing)
            for mixing in (TYPICAL_MIXING, WORST_MIXING)
        )
        limits = limits_of(self.what.data, nation=self.nation.data) or ()
        in_unit = {
            "mg/m³": (typical, worst),
            "ppm": tuple(ppm_from_mg_m3(mg_m3=level, molar_mass_g_mol=molar) for level in (typical, worst)),
        }
        rows = tuple(
            (
                limit.in_words,
                f"{rough(in_unit[limit.unit][0])} to {rough(in_unit[limit.unit][1])} {limit.unit}",
                _beside(in_unit[limit.unit][1], limit.twa or limit.stel),
                limit.source,
            )
            for limit in limits
        )
        return Answer(
            figures=(
                Figure(
                    f"{rough(worst)} mg/m³",
                    "in the room, at worst",
                    f"Estimated: from {rough(typical)} mg/m³ with the air well mixed to {rough(worst)} badly.",
                ),
                Figure(f"{rough(emitted)} mg/h", "evaporates", f"From {area:.2f} m² of solution."),
            ),
            formula=(
                f"{number(self.flow.value)} m³/h ÷ {number(self.room.value)} m³ = {changes:.1f} changes an hour",
                f"{emitted:.3g} mg/h ÷ ({TYPICAL_MIXING} × {number(self.flow.value)} m³/h) = {typical:.3g} mg/m³",
            ),
            source=(
                source_of(evaporation_mg_h),
                source_of(pressure_over_solution_pa),
                source_of(room_level_mg_m3),
                source_of(ppm_from_mg_m3),
            ),
            margin="An estimate, to a factor of two or three. It shows that a room is bad, never that it is safe.",
            warnings=() if limits else ("No limit is on file for it here: that is not to say that there is none.",),
            remarks=(
                f"Vapour pressure as at 20 °C ({number(pure)} Pa pure), air at {AIR_M_S} m/s over the tray. Right over "
                "it there is more. The assessment, and measurements where they are due, come first.",
            ),
            tables=(Rows("Beside the workplace exposure limit", ("Limit", "In the room", "So", "Source"), rows),)
            if rows
            else (),
        )


def _beside(worst: float, limit: float | None) -> str:
    if limit is None or worst > limit:
        return "may be over: ask the safety adviser"
    return f"at most {rough(100 * worst / limit)} % of it, by this estimate"


class Meet(Question):
    """What happens where two kinds of solution meet, and what to do first."""

    key = "meet"
    title = "May these two meet?"
    first = choice_field("This", [(str(group), f"{group}: {told}") for group, told in EXAMPLES.items()])
    second = choice_field("And this", [(str(group), f"{group}: {told}") for group, told in EXAMPLES.items()])

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        pair = Group(self.first.data), Group(self.second.data)
        named = " and ".join(dict.fromkeys(pair))
        clash = conflict(*pair)
        if clash is None:
            return Answer(
                figures=(Figure("Not on file", named),),
                formula=(),
                source=("Nothing is on file for this pair",),
                warnings=("That is no promise that mixing is safe. Keep to one container for each waste code.",),
            )
        return Answer(
            figures=(Figure("Keep apart", named, f"Gives off {clash.gas}." if clash.gas else ""),),
            formula=(),
            source=(clash.source,),
            warnings=(clash.caution,),
        )


class Gas(Question):
    """How much poisonous gas a wrong mixture can set free, in a closed room."""

    key = "gas"
    title = "How much gas would a mistake set free?"
    what = choice_field("Mistake", FREES_GAS.items())
    amount = NumberField("Amount", low=0, high=100_000, unit="g", above_low=True, description="Of bleach, in mL.")
    room = NumberField("Volume of the room", low=1, high=100_000, unit="m³")

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        release = self._release()
        level = in_closed_room(release, room_m3=self.room.value)
        is_dangerous = level.ppm >= level.danger_ppm
        met = "acid" if self.what.data != "alkali 7783-18-8" else "alkali"
        return Answer(
            figures=(
                Figure(f"{rough(level.ppm)} ppm", f"of {release.gas}", "At most, with no air drawn out."),
                Figure(f"{rough(release.grams)} g", "of gas"),
            ),
            formula=(
                f"{release.grams:.3g} g × 1000 ÷ {number(self.room.value)} m³ = {number(level.mg_m3)} mg/m³ = "
                f"{level.ppm:.3g} ppm",
                f"Dangerous at once from {number(level.danger_ppm)} ppm",
            ),
            source=(
                "Calculated from molar masses, all of it reacting",
                "Danger at once: NIOSH IDLH values, from memory",
                "Available chlorine of bleach, 50 g/L: common practice, no source",
            ),
            margin="The most there can be. Close to the vessel the level is far higher.",
            warnings=(
                f"Enough to kill in a closed room. {OUT} {STAY_OUT}"
                if is_dangerous
                else f"Under the level that is dangerous at once, and still no gas to breathe: keep {met} away.",
            ),
        )

    def _release(self) -> Release:
        meets, _, cas = self.what.data.partition(" ")
        if meets == "bleach":
            return chlorine_from_bleach(total_ml=self.amount.value, available_chlorine_g_l=BLEACH_G_PER_L)
        return (with_acid if meets == "acid" else with_alkali)(cas=cas, grams=self.amount.value)
