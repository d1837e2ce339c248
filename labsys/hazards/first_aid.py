"""What to do first when somebody is hurt, something is spilled, or a gas comes off: one wording everywhere.

Source: rinsing for 20 minutes: published advice ranges from 10 to 20; from memory. Rinsing with lids apart and lenses
out, clothes off, fresh air, and not making anybody sick follow P305+P351+P338, P303+P361+P353, P304+P340 and
P301+P330+P331 of CLP Annex IV. Absorbing every spill, with nothing that burns where it oxidises, no dry sweeping, and
no acid on a developer, fixer, sulfite, sulfide or selenium spill: from memory. That alkali feels slippery and goes on
burning, that nothing is neutralised on skin, that an allergy can begin after years, and that nobody enters a room with
gas in it: common practice, no source.
"""

from dataclasses import dataclass

HELP_FIRST = "Help first. Write it down later."
SDS_FIRST = "Section 4 of the supplier's SDS comes first: where it asks for more, do more. Take the SDS to hospital."
SOURCES = (
    "20 minutes: published advice ranges from 10 to 20 (from memory). The rest follows P301+P330+P331, P303+P361+P353, "
    "P304+P340 and P305+P351+P338 of CLP Annex IV, and common practice."
)
OUT = "Out, door shut."
STAY_OUT = (
    "Nobody goes back in, even to rescue, until a named competent person releases the room; never judged by smell. "
    "White light on: film does not matter."
)
NO_ACID = "Never put acid on it, stop bath included: it frees a poisonous gas."

# What has no room for more: a label, a sheet of one page.
RINSE_NOW = "Eyes or skin: rinse now, 20 minutes."
EYES = "In the eyes: rinse at once, lids held apart, 20 minutes. Then to hospital with the SDS. Report later."
SKIN = "On the skin: wet clothes off, rinse 20 minutes."
SPILLED = "Spill: air, gloves and goggles on, absorb it; no acid and no other bath on it."
GAS = f"Gas, or it stings: {OUT[:1].lower()}{OUT[1:]} {STAY_OUT}"
ON_A_LABEL = (EYES, f"{SKIN} {SPILLED}")


@dataclass(frozen=True, slots=True)
class FirstAid:
    """One kind of accident: what to do first in large type, then what; `codes` are the statements it can come from."""

    key: str
    where: str
    first: str
    then: str
    codes: tuple[str, ...] = ()


FIRST_AID = (
    FirstAid(
        "eyes",
        "Eyes",
        "Rinse. 20 minutes.",
        "At once, lids held apart, lenses out if they come easily. Somebody else calls. Then hospital, with the SDS.",
        ("H314", "H318", "H319"),
    ),
    FirstAid(
        "skin",
        "Skin",
        "Clothes off. Rinse. 20 minutes.",
        "Start under the clothes while they come off. Shoes and watch too. A rash, even days later: show it and say "
        "what you worked with.",
        ("H310", "H311", "H312", "H315", "H317"),
    ),
    FirstAid(
        "burn",
        "Acid or alkali",
        "Rinse. Never neutralise.",
        "Nothing on it but water. Alkali feels slippery and burns on when it no longer hurts: keep rinsing, then get "
        "help.",
        ("H314",),
    ),
    FirstAid(
        "breathed",
        "Breathed in",
        "Out, to fresh air.",
        "Sit up, loosen the collar. Short of breath, chest tight, or asthma: call an ambulance.",
        ("H330", "H331", "H332", "H334", "H335"),
    ),
    FirstAid(
        "swallowed",
        "Swallowed",
        "Rinse the mouth. No vomiting.",
        "Sips of water if wide awake, nothing if not. Help at once, with the bottle or the SDS in hand.",
        ("H300", "H301", "H302", "H304", "H314"),
    ),
    FirstAid("gas", "Gas, or it stings", OUT, STAY_OUT, ("EUH029", "EUH031", "EUH032")),
    FirstAid(
        "fire",
        "Fire",
        "White light on. Everybody out.",
        "Film does not matter. Doors shut behind you. Outside: count, and say who was in the loading room.",
    ),
)
CUT = FirstAid("cut", "Cut", "Rinse. Press. Cover.", "A deep cut, or chemicals in it: to hospital, with the SDS.")


@dataclass(frozen=True, slots=True)
class Spill:
    """What to do about one kind of spill."""

    kind: str
    do: str


SPILLS = (
    Spill(
        "Any of it",
        "Tell the room. Air. Gloves and goggles on. Nobody walks through it. Bag what soaked it up: 15 02 02*.",
    ),
    Spill("Fixer", "Soak up, bag, wash with water. Never acid on it: that frees a poisonous gas."),
    Spill("Stop bath or other acid", "Soak up with the spill kit. Away from fixer, bleach and sulfite."),
    Spill("Developer", "Soak up, wash twice. No acid on it. It can make skin react for life."),
    Spill("Bleach", "Soak up with what cannot burn: no sawdust, no paper. No acid, no fixer, no ammonia on it."),
    Spill("Concentrate or toner", "Leave it. No acid on it. Out, door shut, call the person in charge."),
    Spill("Powder", "Never sweep it dry. Leave it, fan on, call. Wiped up wet by somebody with gloves and goggles."),
)
