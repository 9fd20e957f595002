"""The keys of `bandscan tally` as its help prints them; the screen has them in five lines."""

from __future__ import annotations

KEY_CARD = """\
Tune to the next station, listen, press one key. The pad of figures is enough:

  9 8 7   clean, every word, a trace: stereo lamp on
  6 5 4   the same: stereo lamp off
  3 2 1   the same: no lamp looked at
  SPACE, ENTER   heard, as 2
  M two stations at once   W a whistle   R a repeat of one heard before
  U, - or BACKSPACE   takes the last key back, and the one before it

for the station noted last:
  L lamp: on, flicker, off, not looked at
  D or .   what the dial reads, as 96.5, 965, 96 1/2, 1400 or 140
  A name of a station that you are sure of by ear; names are offered from the
    second letter on
  T remark

for the stations to come:
  N next sweep, down the dial after one up; again turns it round
  B the other band   P attenuator in line, dB   I about the radio

E shows the station that is next in the list, or hides it; LEFT and RIGHT move
along the list. It is hidden at first: seeing the list makes one hear it, so the
sheet then says `seen_list: yes`.
Q finishes. ESC leaves what is being typed, and the questions at the start.
CTRL-C leaves at once. The sheet is saved at every key: open it again to go on.
After a kill the terminal may be upset: type reset
"""
