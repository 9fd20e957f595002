"""A count sheet filled in with one hand: what a key does, what the screen shows, and the file that every key is saved in.

Only `desk` knows of a terminal, so that all the rest is tested without one.
"""

from bandscan.tally.desk import Desk
from bandscan.tally.kept import Kept
from bandscan.tally.state import Known, State, Station
from bandscan.tally.text import STANDS, asked, read_state, sheet_text, standing

__all__ = ["STANDS", "Desk", "Kept", "Known", "State", "Station", "asked", "read_state", "sheet_text", "standing"]
