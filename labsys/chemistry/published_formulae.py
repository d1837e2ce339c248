"""Published formulae of the common literature, for trying out and for the worked examples. Per litre.

Each line says in `source` what was read and what is from memory. A lab enters its own; these are no recommendation.
"""

from labsys.chemistry.formulae import Formula, Ingredient, Unit

MQ_BORAX_FILM_DEVELOPER = Formula(
    name="MQ borax fine-grain film developer",
    ingredients=(
        Ingredient("metol", 2.0),
        Ingredient("sodium sulfite, anhydrous", 100.0),
        Ingredient("hydroquinone", 5.0),
        Ingredient("borax, decahydrate", 2.0),
    ),
    first_water_ml=750.0,
    water_celsius=50.0,
    source="A formulary page of 2018; order, water and the hydrate of the borax from memory",
)
MQ_CARBONATE_PRINT_DEVELOPER = Formula(
    name="MQ carbonate print developer, stock",
    ingredients=(
        Ingredient("metol", 3.1),
        Ingredient("sodium sulfite, anhydrous", 45.0),
        Ingredient("hydroquinone", 12.0),
        Ingredient("sodium carbonate, anhydrous", 67.5),
        Ingredient("potassium bromide", 1.9),
    ),
    first_water_ml=500.0,
    water_celsius=52.0,
    source="Handicraft (recreation-programme handbook), chapter Photography; carbonate and bromide from memory",
)
CITRIC_STOP = Formula(
    name="citric acid stop bath",
    ingredients=(Ingredient("citric acid", 15.0),),
    first_water_ml=750.0,
    source="S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. 268",
)
NON_SWELLING_STOP = Formula(
    name="non-swelling stop bath",
    ingredients=(Ingredient("acetic acid 28 %", 32.0, Unit.MILLILITRE), Ingredient("sodium sulfate, anhydrous", 45.0)),
    first_water_ml=500.0,
    source="S. Anchell, The Darkroom Cookbook, 3rd ed., Focal Press 2008, p. 268",
)
PLAIN_ACID_HYPO = Formula(
    name="plain acid hypo",
    ingredients=(Ingredient("sodium thiosulfate, pentahydrate", 200.0), Ingredient("potassium metabisulfite", 26.0)),
    source="A plate and paper maker's photographic handbook (c. 1930), p. 65",
)
ACID_HARDENING_FIXER = Formula(
    name="acid hardening fixer",
    ingredients=(
        Ingredient("sodium thiosulfate, pentahydrate", 320.0),
        Ingredient("sodium sulfite, anhydrous", 30.0),
        Ingredient("acetic acid, glacial", 18.0, Unit.MILLILITRE),
        Ingredient("boric acid", 10.0),
        Ingredient("potassium alum", 25.0),
    ),
    first_water_ml=500.0,
    water_celsius=52.0,
    source="A maker's published formula, in reprint",
)
ALKALINE_RAPID_FIXER_CONCENTRATE = Formula(
    name="alkaline rapid fixer, concentrate for 1+4",
    ingredients=(
        Ingredient("ammonium thiosulfate 58 to 60 %", 800.0, Unit.MILLILITRE),
        Ingredient("sodium sulfite, anhydrous", 60.0),
        Ingredient("sodium metaborate", 5.0),
    ),
    source="Two formularies",
)
SULFITE_WASH_AID = Formula(
    name="sulfite wash aid",
    ingredients=(Ingredient("sodium sulfite, anhydrous", 20.0),),
    source="Two independent texts: 2 % sodium sulfite",
)
RESIDUAL_THIOSULFATE_TEST = Formula(
    name="residual thiosulfate test solution",
    ingredients=(Ingredient("acetic acid 28 %", 125.0, Unit.MILLILITRE), Ingredient("silver nitrate", 7.5)),
    first_water_ml=750.0,
    source="Formula and procedure in a process-list post, 2008",
)
