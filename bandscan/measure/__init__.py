"""Capture to READINGS: one pass over the samples, constant memory."""

from bandscan.measure.capture import covered, measure

__all__ = ["covered", "measure"]
