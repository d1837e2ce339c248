"""What is written in an assessment that is whole."""

from tests.support.assessing import REVIEW

DONE = {
    "who": ["members", "students"],
    "how_many": "6",
    "routes": ["skin", "eyes"],
    "frequency": "twice a week",
    "existing_controls": "Tongs at each tray.\nVentilation on.",
    "controls_practice": "Tongs for every print.\nSplashes wiped up at once.",
    "glove_material": "nitrile, 0.2 mm",
    "glove_minutes": "60",
    "glove_source": "as the glove maker's data says",
    "air_changes": "6",
    "air_changes_source": "extraction test of February",
    "has_surveillance": "y",
    "residual": "low",
    "residual_reason": "Diluted, and hands stay out of it.",
    "under_18": "only with somebody named",
    "under_18_with": "an instructor in the room",
    "review_on": REVIEW.isoformat(),
}
