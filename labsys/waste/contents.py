"""What is in a container: by the pours that count, or as a release stated it anew; and what that can do to a person."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from labsys.hazards.classes import classes_for_code, severity_place
from labsys.hazards.label import LabelElements, from_h_codes, label_elements
from labsys.hazards.mixtures import classify, settle
from labsys.hazards.mixtures.classify import Part, blend
from labsys.hazards.nations import Rules
from labsys.hazards.solution import Basis, SolutionHazards
from labsys.hazards.waste_properties import HazardousProperty, hazardous_properties, open_properties
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.quantities import MILLI, show_mass, show_volume
from labsys.waste.meeting import Solution, solution_of
from labsys.waste.models import Pour, ReleaseKind, StatedProperties, WasteContainer, WasteKind
from labsys.waste.rules import Into

NOT_KNOWN = "What is in it is not known"
# Of these, silver worth an estimate is in none: common practice, no source.
_WITHOUT_SILVER = frozenset({WasteKind.DEVELOPER, WasteKind.STOP, WasteKind.WETTING_AGENT})  # the rest follows a fixer
_BY_PH = {"H314": "HP 8", "H318": "HP 4"}  # statements that a pH can bring, and the property each belongs to
_ON_REQUEST = "EUH210"  # "Safety data sheet available on request": said by a supplier, never by a drum of waste


@dataclass(frozen=True)
class Contents:
    """What was poured into a container and counts, oldest first; `rules` are those of the nation it stands in.

    `trivial_ul` is what a reading can be wrong by, `surplus_ul` what was found in it beyond the pours, where that is
    more; `statement` the newest of its hazardous properties, whatever it speaks of.
    """

    container: WasteContainer
    pours: tuple[Pour, ...]
    rules: Rules
    trivial_ul: int
    surplus_ul: int = 0
    statement: StatedProperties | None = None

    @property
    def present(self) -> tuple[Pour, ...]:
        """What was poured since it was last found empty. What was in it before decides what may go in, as its rest."""
        emptied = self.container.found_empty_at
        return tuple(pour for pour in self.pours if emptied is None or pour.recorded_at > emptied)

    @property
    def why_not_known(self) -> str:
        """Why it is not known what is in it, or what that does; empty where it is.

        The pours are asked too, not the quarantine alone: a wrong one counts until a release of it is on file.
        """
        wrong = next((pour for pour in self.pours if pour.wrong_because and not self._was_released(pour)), None)
        if wrong is not None and self.container.quarantine is None:
            return f"“{wrong.what}” was poured into it wrongly, and no release of that is on file."
        if self.container.restated:
            return ""
        unknown = [pour.what for pour in self.pours if pour.kind is None]
        if unknown:
            return f"{NOT_KNOWN}: nobody said what “{unknown[0]}” was."
        if self.surplus_ul:
            return f"{NOT_KNOWN}: {show_volume(self.surplus_ul)} more was found in it than was recorded."
        return ""

    @property
    def stated(self) -> StatedProperties | None:
        """What was stated of its hazardous properties, where that speaks of what is in it now."""
        newest = self.statement
        if newest is None or (newest.pour_id, newest.poured_ul) != (self.newest_pour_id, self.poured_ul):
            return None
        restated = self.container.restated
        is_overtaken = restated is not None and restated.released_at and restated.released_at > newest.stated_at
        return None if is_overtaken else newest

    @property
    def solutions(self) -> list[Solution]:
        """Each different thing in it, once, but for what was let pass as a trivial carry-over."""
        let_pass = self.let_pass
        kept = [pour for pour in self.pours if pour not in let_pass]
        return list(dict.fromkeys(solution_of(pour.kind, pour.product) for pour in kept))

    @property
    def let_pass(self) -> list[Pour]:
        """What went in wrongly and was released as a trivial carry-over."""
        return [pour for pour in self.pours if self._was_let_pass(pour)]

    def _was_released(self, pour: Pour) -> bool:
        """Whether a quarantine it fell into was ended, or what is in there was classified anew after it."""
        return any(
            past.released_at is not None
            and pour.recorded_at <= past.released_at
            and (past.recorded_at <= pour.recorded_at or past.release_kind is ReleaseKind.RESTATED)
            for past in self.container.quarantines
        )

    def _was_let_pass(self, pour: Pour) -> bool:
        return bool(pour.wrong_because) and any(
            past.release_kind is ReleaseKind.CARRY_OVER
            and past.released_at is not None
            and past.recorded_at <= pour.recorded_at <= past.released_at
            for past in self.container.quarantines
        )

    @property
    def parts(self) -> dict[str, int]:
        """What is in it by name, the most first. [µL]"""
        volumes = _volumes(self.present)
        if self.surplus_ul:
            volumes["found beyond what was recorded"] = self.surplus_ul
        return dict(sorted(volumes.items(), key=lambda part: -part[1]))

    @property
    def in_words(self) -> str:
        """Its contents as a label says them."""
        if self.container.found_empty_at and not self.parts:
            return "nothing: it was found empty"
        if self.container.restated is None:
            return _in_words(self.parts) or "nothing yet"
        since = _in_words(_volumes(self.poured_since))
        return self.container.restated.release_components + (f"; poured in since: {since}" if since else "")

    @property
    def poured_since(self) -> tuple[Pour, ...]:
        """What was recorded after it was classified anew: the release does not speak of that."""
        restated = self.container.restated
        if restated is None or restated.released_at is None:
            return ()
        return tuple(pour for pour in self.pours if pour.recorded_at > restated.released_at)

    @property
    def since_in_words(self) -> str:
        """How far what a release stated still holds; empty where nothing was poured since."""
        volume = sum(pour.volume_ul for pour in self.poured_since)
        return f"as stated when released, {show_volume(volume)} poured since" if volume else ""

    @property
    def silver_in_words(self) -> str:
        """The silver in it as an estimate, or that there is none worth one."""
        low, high = (sum(getattr(pour, side) for pour in self.present) for side in ("silver_low_mg", "silver_high_mg"))
        unknown = sum(not pour.silver_high_mg and pour.kind not in _WITHOUT_SILVER for pour in self.present)
        if not high:
            return "not estimated" if unknown else "none to speak of"
        told = f"{show_mass(low)} to {show_mass(high)}, estimate"
        return f"{told}, besides {unknown} not estimated" if unknown else told

    @property
    def banner(self) -> str:
        """What stands right across its label, and over its code, where it is no ordinary container."""
        if self.container.quarantine:
            return "QUARANTINE: nothing in, not to leave"
        if self.why_not_known:
            return "CONTENTS NOT KNOWN: nothing in, not to leave"
        return "WAITS TO LEAVE: nothing more in" if self.container.restated else ""

    @property
    def unaccounted_ul(self) -> int:
        """What the book holds beyond what was poured in: a reading's error, or something nobody recorded."""
        return max(self.container.vessel.level - sum(pour.volume_ul for pour in self.present), 0)

    @property
    def poured_ul(self) -> int:
        return sum(pour.volume_ul for pour in self.pours)

    @property
    def newest_pour_id(self) -> int | None:
        """What was recorded last of what counts."""
        return max((pour.id for pour in self.pours), default=None)


def _volumes(pours: Sequence[Pour]) -> dict[str, int]:
    """How much was poured, by name. [µL]"""
    volumes: dict[str, int] = {}
    for pour in pours:
        name = solution_of(pour.kind, pour.product).name
        volumes[name] = volumes.get(name, 0) + pour.volume_ul
    return volumes


def _in_words(volumes: Mapping[str, int]) -> str:
    return ", ".join(f"{name} {show_volume(volume)}" for name, volume in volumes.items())


def into_of(contents: Contents) -> Into:
    """A container as the decision about a pour needs it."""
    container = contents.container
    return Into(
        name=f"{container.stream.name} {container.label}",
        code=container.code,
        holds=contents.solutions,
        why_not_known=contents.why_not_known,
        is_quarantined=container.quarantine is not None,
        is_restated=container.restated is not None,
    )


def contents_of(
    container: WasteContainer,
    pours: Sequence[Pour],
    *,
    rules: Rules,
    carry_over_milli: int,
    statement: StatedProperties | None,
) -> Contents:
    """Put together what a container holds; a surplus up to the lab's figure for a trivial amount is a reading's."""
    counted = tuple(pour for pour in pours if pour.counts)
    trivial = container.vessel.level * carry_over_milli // MILLI
    contents = Contents(container, counted, rules, trivial, statement=statement)
    surplus = contents.unaccounted_ul
    return replace(contents, surplus_ul=surplus) if surplus > trivial else contents


@dataclass(frozen=True)
class ContentsHazards:
    """What the contents of a container can do to a person: an estimate, and how it was made.

    `properties` are the hazardous properties of waste law as a release stated them or as they were worked out; empty
    where `why_no_properties` says why there are none. `left_open` is what somebody competent has to decide beside them.
    """

    label: LabelElements
    properties: str
    basis: str
    why_no_properties: str = ""
    worked_out: tuple[HazardousProperty, ...] = ()
    left_open: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()
    is_stated: bool = False

    @property
    def codes(self) -> str:
        """The properties by their codes, as stated or worked out."""
        return self.properties if self.is_stated else ", ".join(each.code for each in self.worked_out)

    @property
    def open_question(self) -> str:
        """What is not known of its hazardous properties until somebody states them; empty where they are known."""
        return "" if self.is_stated else "; ".join(filter(None, (self.why_no_properties, *self.left_open)))

    @property
    def on_label(self) -> str:
        """The hazardous properties by their codes, or that a person has to state them."""
        codes = f"HP: {self.codes}" if self.codes == StatedProperties.NONE else self.codes
        stays = "not to leave until stated" if self.open_question else ""
        return "; ".join(filter(None, (codes or "HP not worked out", *self.left_open, stays)))

    @property
    def properties_in_words(self) -> str:
        return "; ".join((self.properties or f"{self.why_no_properties}: {_ASK}", *self.left_open))


_ESTIMATE = "Estimate, from what was poured in; used solution holds more than that."
_OF_PRODUCTS = "Estimate, from the products whose used solution goes in; used solution holds more than that."
_RELEASED = "As stated when it was released from quarantine."
_STATED = "Hazardous properties as somebody competent stated them; the rest is an estimate from what was poured in."
_ASK = "a competent person states them before it leaves"
_NOT_WORKED_OUT = "not worked out ({})"
_NONE_REACHED = "none reached by calculation, which rules none out"


def hazards_in(contents: Contents, *, going_in: Sequence[Product]) -> ContentsHazards:
    """Return what the contents can do to a person.

    `going_in` are the products whose used solution goes into such a container: where it is empty, or where of something
    in it only the kind is known, the hazards of all of them stand together, which is the stricter reading.
    """
    if not contents.present:
        label = _together([_strongest(product) for product in going_in], rules=contents.rules)
        return ContentsHazards(label, "", _OF_PRODUCTS, _NOT_WORKED_OUT.format("nothing is in it yet"))
    known = [
        hazards_of(pour.product, water_parts_milli=pour.water_parts_milli)
        for pour in contents.present
        if pour.product is not None
    ]
    why = _why_not_blended(contents, known)
    if why:
        label = _together([*known, *(_strongest(product) for product in going_in)], rules=contents.rules)
        found = ContentsHazards(label, "", _ESTIMATE, _NOT_WORKED_OUT.format(why))
    else:
        found = _blended(contents, known)
    return _as_stated(contents, found)


def _as_stated(contents: Contents, found: ContentsHazards) -> ContentsHazards:
    """What somebody stated of the hazardous properties goes before what was worked out, the newest first."""
    stated, restated = contents.stated, contents.container.restated
    if stated:
        known = replace(found, properties=stated.properties, basis=_STATED, left_open=())
    elif restated:
        left_open = tuple(filter(None, [contents.since_in_words]))
        known = replace(found, properties=restated.release_properties, basis=_RELEASED, left_open=left_open)
    else:
        return found
    return replace(known, why_no_properties="", is_stated=True)


def _why_not_blended(contents: Contents, known: Sequence[SolutionHazards]) -> str:
    if contents.why_not_known:
        return "what is in it is not known"
    by_kind = [
        pour.kind.words for pour in contents.present if pour.kind and pour.product is None and not _is_rinse(pour)
    ]
    if by_kind:
        return f"of {by_kind[0]} only the kind is known"
    if any(hazards.is_not_known for hazards in known):
        return "nobody has entered what the SDS of a product in it says"
    if any(hazards.h_codes and not hazards.ingredients for hazards in known):
        return "the SDS of a product in it names no ingredients"
    if any(hazards.basis is Basis.AS_SUPPLIED for hazards in known):
        return "the ingredients of a product in it cannot be calculated with"
    return ""


def _is_rinse(pour: Pour) -> bool:
    return pour.kind is WasteKind.RINSE


def _blended(contents: Contents, known: Sequence[SolutionHazards]) -> ContentsHazards:
    """Everything mixed together, each by its share of the volume, a litre taken to weigh a kilogram.

    What makes skin and eyes corrode by its pH does not blend: that of the whole is not known, so it stands.
    """
    volumes = [pour.volume_ul for pour in contents.present if pour.product is not None]
    in_all = sum(pour.volume_ul for pour in contents.present)
    ingredients = blend(
        [Part(hazards.ingredients, round(volume / in_all, 12)) for hazards, volume in zip(known, volumes, strict=True)]
    )
    settled = settle(classify(ingredients, rules=contents.rules), ingredients, choices={})
    standing = sorted({code for hazards in known for code in hazards.h_codes} & _BY_PH.keys() - {*settled.h_codes})
    classes = {*settled.classes, *(classes_for_code(code)[0] for code in standing)}
    elements = label_elements(
        replace(settled, classes=tuple(sorted(classes, key=severity_place))), rules=contents.rules
    )
    euh = tuple((code, text) for code, text in elements.euh_statements if code != _ON_REQUEST)
    codes = [each.code for each in (*settled.euh, *settled.screening)]
    worked = hazardous_properties(
        ingredients, euh_codes=codes, standing={_BY_PH[code]: f"{code} of a pour in it stands" for code in standing}
    )
    code = contents.container.code
    left_open = open_properties(ingredients)
    if worked and not code.endswith("*"):
        left_open = (*left_open, f"{code} is for waste that has none: somebody competent decides")
    return ContentsHazards(
        label=replace(elements, euh_statements=euh),
        properties=", ".join(str(each) for each in worked),
        basis=_ESTIMATE,
        why_no_properties="" if worked else _NONE_REACHED,
        worked_out=worked,
        left_open=left_open,
        not_known=(*settled.notices, *settled.open_points),
    )


def _strongest(product: Product) -> SolutionHazards:
    """A product at the strongest dilution of its data sheet."""
    strongest = min((dilution.water_parts_milli for dilution in product.dilutions), default=None)
    return hazards_of(product, water_parts_milli=strongest)


def _together(solutions: Sequence[SolutionHazards], *, rules: Rules) -> LabelElements:
    """The hazards of several solutions together, none of them softened by another."""
    return from_h_codes(
        [code for solution in solutions for code, _ in solution.statements if code != _ON_REQUEST],
        names=tuple(dict.fromkeys(part.name for solution in solutions for part in solution.ingredients)),
        sensitisers=tuple(dict.fromkeys(name for solution in solutions for name in solution.sensitisers)),
        rules=rules,
    )
