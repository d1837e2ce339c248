"""Decisions about handing over, and what is left alone when a lab is cleared out."""

from typing import NamedTuple

from labsys.records.errors import Refused


class HandoverRefused(Refused):
    """The note or the film cannot be so; the message says why and what to do."""


class LeftAlone(NamedTuple):
    """Something that nobody touches, opens or moves, and why."""

    what: str
    why: str


# All from memory: the first five of general laboratory practice, nitrate film of what archives say of it.
STOP_LIST = (
    LeftAlone("Crystals or a crust that nobody can name", "Some go off when they are scraped or the cap is turned."),
    LeftAlone("A bulging cap or a swollen bottle", "Gas is in it: opened, it sprays what it holds."),
    LeftAlone("Picric acid", "Dry, it explodes when it is knocked; its crystals sit in the thread of the cap."),
    LeftAlone("Ether", "Old ether holds peroxides, which explode when it is moved, opened or warmed."),
    LeftAlone("Cyanide", "With any acid, stop bath included, it gives off hydrogen cyanide."),
    LeftAlone("Nitrate film: old film without “safety” on its edge", "It takes fire by itself, and burns under water."),
)
STOP_SOURCE = "From memory; the emergency services and the safety adviser know more. When in doubt it is on this list."
