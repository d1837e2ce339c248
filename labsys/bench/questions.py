"""All the questions that can be asked at the bench, as the page shows them."""

from labsys.bench.bath_forms import Capacity, Clearing, Replenish, Silver, TwoBaths, Wash
from labsys.bench.forms import Question
from labsys.bench.mixing_forms import Cool, Develop, Dilute, LeastConcentrate, MakeFrom, Powders, Series, Temper, Weaken

GROUPS: tuple[tuple[str, tuple[type[Question], ...]], ...] = (
    ("Mixing", (Dilute, MakeFrom, Series, Weaken, LeastConcentrate)),
    ("Temperature and time", (Temper, Cool, Develop)),
    ("Baths", (Capacity, Clearing, TwoBaths, Replenish)),
    ("Washing and silver", (Wash, Silver)),
    ("Powders", (Powders,)),
)
