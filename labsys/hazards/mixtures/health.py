"""Sensitisers, what acts on genes, cancer and reproduction, single organs, and aspiration.

Source: CLP Annex I 3.4 to 3.10: Table 3.7.2 read in ECHA Helpdesk seminar slides (O. Tunnela, 2012); STOT limits read
in TRGS 201 section 2.2.6; elicitation rule read in CLP Annex II 2.8; Tables 3.4.5, 3.4.6, 3.5.2 and 3.6.2 from memory.
Limits are those for solids and liquids.
"""

from collections.abc import Sequence

from ..classes import Family, HazardClass
from ..nations import Rules
from .model import Alternative, Finding, Ingredient, Reason, Supplement, listing, reaches, total

_SENSITISERS = ("Resp. Sens.", "Skin Sens.")
_SENSITISER_LIMIT = {"1": 1.0, "1B": 1.0, "1A": 0.1}  # [% w/w]
_ELICITATION_LIMIT = {"1": 0.1, "1B": 0.1, "1A": 0.01}  # [% w/w]
_OWN_LIMIT_RULE = 0.1  # [% w/w]: a tenth of a specific limit triggers EUH208 when the limit is below this
_LONG_TERM_LIMIT = {
    "Muta.": {"1A": 0.1, "1B": 0.1, "2": 1.0},
    "Carc.": {"1A": 0.1, "1B": 0.1, "2": 1.0},
    "Repr.": {"1A": 0.3, "1B": 0.3, "2": 3.0},
    "Lact.": {"": 0.3},
}
_ORGAN_CODES = {"STOT SE": ("H370", "H371"), "STOT RE": ("H372", "H373")}
_ASPIRATION_VISCOSITY = 20.5  # [mm²/s at 40 °C]


def sensitises_skin(ingredient: Ingredient) -> bool:
    """Say whether the ingredient is present and can make skin allergic.

    Parameters:
        ingredient: A declared ingredient. [-]
    Returns:
        True at any strength above nothing. [-]
    """
    return _is_present_as(ingredient, "Skin Sens.")


def sensitises_airways(ingredient: Ingredient) -> bool:
    """Say whether the ingredient is present and can make airways allergic.

    Parameters:
        ingredient: A declared ingredient. [-]
    Returns:
        True at any strength above nothing. [-]
    """
    return _is_present_as(ingredient, "Resp. Sens.")


def is_sensitiser(ingredient: Ingredient) -> bool:
    """Say whether the ingredient is present and sensitises skin or airways.

    Parameters:
        ingredient: A declared ingredient. [-]
    Returns:
        True at any strength above nothing. [-]
    """
    return sensitises_skin(ingredient) or sensitises_airways(ingredient)


def _is_present_as(ingredient: Ingredient, name: str) -> bool:
    return ingredient.high_percent > 0 and (ingredient.has(name) or ingredient.lowest_limit(name) is not None)


def elicitation_limit(ingredient: Ingredient) -> float:
    """Return the content from which a sensitiser can set off an allergy that is already there.

    Parameters:
        ingredient: A sensitiser. [-]
    Returns:
        The limit that brings EUH208. [% w/w]
    Source:
        CLP Annex I Table 3.4.6 (from memory); a tenth of a specific limit below 0.1 % in the older text.
    """
    limits = [_ELICITATION_LIMIT[hazard.category] for name in _SENSITISERS for hazard in ingredient.hazards(name)]
    own = ingredient.lowest_limit(*_SENSITISERS)
    if own is not None and own < _OWN_LIMIT_RULE:
        limits.append(own / 10)
    return min(limits, default=_ELICITATION_LIMIT["1"])


def sensitisation(ingredients: Sequence[Ingredient], *, rules: Rules) -> Finding:
    """Classify sensitisers, each on its own, and say which must be named.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        rules: Under the EU's a tenth of a specific limit names a sensitiser; under GB's that is the second reading. [-]
    Returns:
        Classes, working, and EUH208 where the mixture is not classified as sensitising. [-]
    """
    classes: list[HazardClass] = []
    reasons: list[Reason] = []
    causes: list[Ingredient] = []
    for name in _SENSITISERS:
        reached: list[HazardClass] = []
        for ingredient in ingredients:
            for hazard, limit in _sensitiser_limits(ingredient, name):
                if reaches(ingredient.high_percent, limit):
                    reached.append(hazard)
                    causes.append(ingredient)
                    reasons.append(Reason(name, f"{listing([ingredient])} reaches {limit:g} %: {hazard}"))
        if reached:
            classes.append(max(reached, key=lambda hazard: ("1", "1B", "1A").index(hazard.category)))
    elicits = [
        i
        for i in ingredients
        if is_sensitiser(i)
        and i not in causes
        and (reaches(i.high_percent, elicitation_limit(i)) or (rules is Rules.EU and _reaches_a_tenth_of_its_limit(i)))
    ]
    euh: tuple[Supplement, ...] = ()
    if elicits:
        reasons.append(Reason("Sensitisers", f"{listing(elicits)}: enough to set off an allergy, so named"))
        if not classes:
            euh = (Supplement("EUH208", tuple(i.name for i in elicits), f"{listing(elicits)}, not classified for it"),)
    return Finding(
        classes=tuple(classes),
        reasons=tuple(reasons),
        alternatives=_newer_elicitation_rule(ingredients, (*causes, *elicits)),
        names=tuple(dict.fromkeys(i.name for i in causes)),
        also_named=tuple(i.name for i in elicits) if classes else (),
        euh=euh,
    )


def _sensitiser_limits(ingredient: Ingredient, name: str) -> list[tuple[HazardClass, float]]:
    own = [(limit.hazard, limit.from_percent) for limit in ingredient.limits if limit.hazard.name == name]
    return own or [(hazard, _SENSITISER_LIMIT[hazard.category]) for hazard in ingredient.hazards(name)]


def _newer_elicitation_rule(ingredients: Sequence[Ingredient], named: Sequence[Ingredient]) -> tuple[Alternative, ...]:
    would_name = [
        i.name for i in ingredients if is_sensitiser(i) and i not in named and _reaches_a_tenth_of_its_limit(i)
    ]
    if not would_name:
        return ()
    why = "the 2025 EU text names a sensitiser from a tenth of its own limit, whatever that limit is"
    named_too = Supplement("EUH208", tuple(would_name), why)
    outcome = f"EUH208 naming {', '.join(would_name)}"
    return (Alternative("Newer EU rule for naming sensitisers", outcome, why, euh=(named_too,)),)


def _reaches_a_tenth_of_its_limit(ingredient: Ingredient) -> bool:
    own = ingredient.lowest_limit(*_SENSITISERS)
    return own is not None and reaches(ingredient.high_percent, own / 10)


def long_term(ingredients: Sequence[Ingredient], *, rules: Rules) -> Finding:
    """Classify effects on genes, cancer, reproduction and nursing, each ingredient on its own.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        rules: Under the EU's, Note 11 adds up the compounds of boron that harm reproduction. [-]
    Returns:
        Classes and working. [-]
    Source:
        Tables as the module names them. Note 11: Regulations (EU) 2023/1434 and 2023/1435, in force 1 February 2025;
        not in GB, where the generic limit holds for each (read in the ECHA table and the GB list).
    """
    classes: list[HazardClass] = []
    reasons: list[Reason] = []
    names: list[str] = []
    for name, limits in _LONG_TERM_LIMIT.items():
        reached: list[HazardClass] = []
        for ingredient in ingredients:
            own = {limit.hazard: limit.from_percent for limit in ingredient.limits if limit.hazard.name == name}
            for hazard in dict.fromkeys((*ingredient.hazards(name), *own)):
                limit = own.get(hazard, limits[hazard.category])
                if reaches(ingredient.high_percent, limit):
                    reached.append(hazard)
                    names.append(ingredient.name)
                    reasons.append(Reason(name, f"{listing([ingredient])} reaches {limit:g} %: {hazard}"))
        if name == "Repr." and rules is Rules.EU:
            reached += _boron_added_up(ingredients, names, reasons)
        if reached:
            category = min(hazard.category for hazard in reached)
            codes = {hazard.code for hazard in reached if hazard.category == category}
            lesser = {hazard.code for hazard in reached if hazard.category != category}
            classes.append(HazardClass(name, category, _joined_code(codes, lesser)))
    return Finding(classes=tuple(classes), reasons=tuple(reasons), names=tuple(dict.fromkeys(names)))


def _boron_added_up(
    ingredients: Sequence[Ingredient], names: list[str], reasons: list[Reason]
) -> tuple[HazardClass, ...]:
    compounds = [i for i in ingredients if i.high_percent > 0 and Family.BORON in i.families and _harms_reproduction(i)]
    limit = _LONG_TERM_LIMIT["Repr."]["1B"]
    if len(compounds) < 2 or not reaches(total(i.high_percent for i in compounds), limit):
        return ()
    names += [i.name for i in compounds]
    reasons.append(Reason("Repr.", f"{listing(compounds)} reach {limit:g} % together (Note 11, EU)"))
    return tuple(hazard for i in compounds for hazard in i.hazards("Repr.") if hazard.category != "2")


def _harms_reproduction(ingredient: Ingredient) -> bool:
    return any(hazard.category in ("1A", "1B") for hazard in ingredient.hazards("Repr."))


def _joined_code(codes: set[str], lesser: set[str]) -> str:
    """Join the letters of H360 and H361 (fertility, development); a code without letters covers them all."""
    stem = min(codes)[:4]
    letters = {code[4:] for code in codes}
    if "" in letters or (stem == "H350" and letters != {"i"}):
        return stem
    suffix = "".join(letters)
    if stem == "H360":
        weaker = suffix + "".join(code[4:] for code in lesser if code.startswith("H361"))
        parts = [up if up in suffix else low for up, low in (("F", "f"), ("D", "d")) if up in suffix or low in weaker]
        return stem + {"fD": "Df"}.get("".join(parts), "".join(parts))
    if stem == "H361":
        return stem + "".join(letter for letter in "fd" if letter in suffix)
    return stem + suffix


def single_organs(ingredients: Sequence[Ingredient]) -> Finding:
    """Classify harm to single organs: once (SE 1 and 2) and repeated (RE 1 and 2), and irritated or drowsy (SE 3).

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
    Returns:
        Classes and working. [-]
    """
    classes: list[HazardClass] = []
    reasons: list[Reason] = []
    names: list[str] = []
    for name, (first, second) in _ORGAN_CODES.items():
        reached = {}
        for ingredient in ingredients:
            category = _organ_category(ingredient, name)
            if category:
                reached[ingredient.name] = category
                reasons.append(Reason(name, f"{listing([ingredient])}: category {category}"))
        if reached:
            worst = min(reached.values())
            classes.append(HazardClass(name, worst, first if worst == "1" else second))
            names += reached
    for code in ("H335", "H336"):
        fractions, words, causes = _organ_3_sum(ingredients, code)
        if causes:
            outcome = "STOT SE 3" if reaches(fractions, 1) else "below 1, no class"
            reasons.append(Reason(f"STOT SE 3 {code}", f"{words} = {fractions:.3g}: {outcome}"))
        if causes and reaches(fractions, 1):
            names += causes
            classes.append(HazardClass("STOT SE", "3", code))
    return Finding(classes=tuple(classes), reasons=tuple(reasons), names=tuple(dict.fromkeys(names)))


def _organ_category(ingredient: Ingredient, name: str) -> str | None:
    for category in ("1", "2"):
        own = ingredient.lowest_limit(name, categories=(category,))
        if own is not None and reaches(ingredient.high_percent, own):
            return category
    if ingredient.lowest_limit(name, categories=("1", "2")) is not None:
        return None
    carried = {hazard.category for hazard in ingredient.hazards(name)}
    if "1" in carried and reaches(ingredient.high_percent, 10):
        return "1"
    if ("1" in carried and reaches(ingredient.high_percent, 1)) or (
        "2" in carried and reaches(ingredient.high_percent, 10)
    ):
        return "2"
    return None


def _organ_3_sum(ingredients: Sequence[Ingredient], code: str) -> tuple[float, str, list[str]]:
    terms: list[tuple[Ingredient, float]] = []
    for ingredient in ingredients:
        own = ingredient.lowest_limit("STOT SE", categories=("3",), code=code)
        carried = any(hazard.code == code for hazard in ingredient.classes)
        limit = own if own is not None else 20.0 if carried else None
        if limit is not None and reaches(ingredient.high_percent, min(1.0, limit)):
            terms.append((ingredient, limit))
    words = " + ".join(f"{i.name} {i.high_percent:g}/{limit:g}" for i, limit in terms)
    return total(i.high_percent / limit for i, limit in terms), words, [i.name for i, _ in terms]


def aspiration(ingredients: Sequence[Ingredient], *, viscosity_mm2_s: float | None) -> Finding:
    """Classify the danger of swallowing into the lungs.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        viscosity_mm2_s: Kinematic viscosity at 40 °C; None is taken as thin enough. [mm²/s]
    Returns:
        Class and working. [-]
    Source:
        CLP Annex I 3.10 (from memory): sum of 10 % and at most 20.5 mm²/s.
    """
    counted = [i for i in ingredients if i.has("Asp. Tox.") and reaches(i.high_percent, 1.0)]
    content = total(i.high_percent for i in counted)
    if not reaches(content, 10):
        return Finding()
    if viscosity_mm2_s is not None and viscosity_mm2_s > _ASPIRATION_VISCOSITY:
        thick = f"{listing(counted)} reaches 10 % but {viscosity_mm2_s:g} mm²/s is above 20.5: no class"
        return Finding(reasons=(Reason("Aspiration", thick),))
    assumed = "" if viscosity_mm2_s is not None else ", viscosity not known and taken as thin"
    return Finding(
        classes=(HazardClass("Asp. Tox.", "1", "H304"),),
        reasons=(Reason("Aspiration", f"{listing(counted)} reaches 10 %{assumed}: Asp. Tox. 1 H304"),),
        names=tuple(i.name for i in counted),
    )
