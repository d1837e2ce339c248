"""Tables of waste."""

from labsys.waste.models.containers import (
    Collection,
    CollectionLine,
    Pour,
    PourCorrection,
    Quarantine,
    ReleaseKind,
    StatedProperties,
    WasteContainer,
    WasteKind,
    WasteStream,
)
from labsys.waste.models.sewer import (
    Discharge,
    DischargeAnswer,
    DischargeReading,
    SewerConsent,
    SewerConsentName,
    SewerLimit,
)

__all__ = [
    "Collection",
    "CollectionLine",
    "Discharge",
    "DischargeAnswer",
    "DischargeReading",
    "Pour",
    "PourCorrection",
    "Quarantine",
    "ReleaseKind",
    "SewerConsent",
    "SewerConsentName",
    "SewerLimit",
    "StatedProperties",
    "WasteContainer",
    "WasteKind",
    "WasteStream",
]
