"""Band plans: which channels exist in a region, as rows of data."""

from bandscan.plans.spans import spans_text
from bandscan.plans.table import BANDS, REGIONS, BandPlan, plan_for

__all__ = ["BANDS", "REGIONS", "BandPlan", "plan_for", "spans_text"]
