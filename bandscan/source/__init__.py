"""Recordings of IQ samples, wherever and however they are kept: bytes in, `Capture` out."""

from bandscan.source.asked import RawFormat
from bandscan.source.open import find, read
from bandscan.source.samples import ENCODINGS, MappedSamples
from bandscan.source.writer import Heading, write

__all__ = ["ENCODINGS", "Heading", "MappedSamples", "RawFormat", "find", "read", "write"]
