"""Band plans: which channels exist in a region, as rows of data; channels in words."""

from bandscan.plans.relays import BY_AUDIO, BY_CODE, programmes, relay_word, same_programme_hz, without_relays
from bandscan.plans.spans import spans_text
from bandscan.plans.table import BANDS, REGIONS, BandPlan, plan_for

__all__ = [
    "BANDS",
    "BY_AUDIO",
    "BY_CODE",
    "REGIONS",
    "BandPlan",
    "plan_for",
    "programmes",
    "relay_word",
    "same_programme_hz",
    "spans_text",
    "without_relays",
]
