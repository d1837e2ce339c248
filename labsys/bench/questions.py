"""All the questions that can be asked at the bench, as the page shows them."""

from labsys.bench.air import Air, Gas, Meet
from labsys.bench.developing import Develop
from labsys.bench.forms import Question
from labsys.bench.keeping import Capacity, Clearing, Replenish, TwoBaths
from labsys.bench.mixing import Dilute, LeastConcentrate, MakeFrom, Series, Weaken
from labsys.bench.powders import Powders
from labsys.bench.silver import Silver
from labsys.bench.stopping import Stop
from labsys.bench.warmth import Cool, Temper
from labsys.bench.washing import Wash

GROUPS: tuple[tuple[str, tuple[type[Question], ...]], ...] = (
    ("Mixing", (Dilute, MakeFrom, Series, Weaken, LeastConcentrate)),
    ("Temperature and time", (Temper, Cool, Develop)),
    ("Baths", (Capacity, Clearing, Stop, TwoBaths, Replenish)),
    ("Washing and silver", (Wash, Silver)),
    ("Powders", (Powders,)),
    ("Air and mistakes", (Meet, Gas, Air)),
)
