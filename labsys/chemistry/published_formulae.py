"""Formulae of printed handbooks, for trying out and for the worked examples, as they are printed: a litre of each.

Each names the page it was read on. A lab enters its own; these are no recommendation.
"""

from labsys.chemistry.formulae import Formula, Ingredient, Unit

_COOKBOOK = "S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p."
_PLATE_HANDBOOK = "A plate and paper maker's photographic handbook (c. 1930), p."
_FIRST_WATER = "First water, half to three quarters, and its warmth: NAVEDTRA 14209, Photography (Basic)"

MQ_BORAX_DEVELOPER = Formula(
    name="old MQ borax developer for plates and slides",
    ingredients=(
        Ingredient("metol", 2.0),
        Ingredient("hydroquinone", 5.0),
        Ingredient("sodium sulfite, heptahydrate", 20.0),
        Ingredient("borax, decahydrate", 20.0),
    ),
    first_water_ml=750.0,
    water_celsius=50.0,
    source=f"{_PLATE_HANDBOOK} 130, for plates and slides, in the order given there, which is for 500 mL; its "
    f"crystalline sulfite is read as the heptahydrate. {_FIRST_WATER}",
    mind="As printed. An MQ borax developer for film is another formula: far more sulfite, far less borax.",
)
CITRIC_STOP = Formula(
    name="citric acid stop bath",
    ingredients=(Ingredient("citric acid", 15.0),),
    first_water_ml=750.0,
    source=f"{_COOKBOOK} 268",
)
NON_SWELLING_STOP = Formula(
    name="non-swelling stop bath",
    ingredients=(Ingredient("acetic acid 28 %", 32.0, Unit.MILLILITRE), Ingredient("sodium sulfate, anhydrous", 45.0)),
    first_water_ml=500.0,
    source=f"{_COOKBOOK} 268",
)
PLAIN_ACID_HYPO = Formula(
    name="plain acid hypo",
    ingredients=(Ingredient("sodium thiosulfate, pentahydrate", 200.0), Ingredient("potassium metabisulfite", 26.0)),
    first_water_ml=750.0,
    water_celsius=32.0,
    source=f"{_PLATE_HANDBOOK} 65. Thiosulfate first, in water of 32 °C, since it cools: {_COOKBOOK} 268. "
    "First water, half to three quarters: NAVEDTRA 14209, Photography (Basic)",
    mind="Let it cool before the metabisulfite goes in: hot water weakens it.",
)
SULFITE_WASH_AID = Formula(
    name="sulfite wash aid",
    ingredients=(Ingredient("sodium sulfite, anhydrous", 20.0),),
    first_water_ml=750.0,
    source="2 % sodium sulfite: common practice, no source. First water: NAVEDTRA 14209, Photography (Basic)",
)
RESIDUAL_THIOSULFATE_TEST = Formula(
    name="residual thiosulfate test solution",
    ingredients=(Ingredient("acetic acid 28 %", 125.0, Unit.MILLILITRE), Ingredient("silver nitrate", 7.5)),
    first_water_ml=750.0,
    source="Radiography in Modern Industry, an X-ray film maker's handbook, page on testing for thiosulfate; "
    "distilled water: standard chemistry, from memory",
    water="distilled water",
    mind="Tap water clouds it: its chloride takes the silver. Keep it in a brown bottle, and off skin and clothes.",
)
