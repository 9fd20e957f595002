"""What the recordings of one survey tell of each other's readings: falls with the gain, what noise or a mirror hides, makers.

Each function amends ROWS, the readings of all recordings with `holds` and `evidence` (each by itself), `recording`, `flat` and
`votes`: whether a reading speaks where recordings differ.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from bandscan.model import Measured
from bandscan.plans import BY_AUDIO, same_programme_hz
from bandscan.survey.gains import LEAST_STEP_DB, Step, falls
from bandscan.survey.makers import makers_of

SEEN_SNR_DB = 6.0  # what stands less over the noise is no witness that nothing is there
PILOT_HZ = (5_700.0, 7_800.0)  # 8 to 10 % of 75 kHz (47 CFR 73.322, ITU-R BS.450), and what transmitters are off by (assumed)
PEAK_HZ = 82_500.0  # 110 % of 75 kHz (47 CFR 73.1570)


def by_gain(rows: pd.DataFrame, steps: Sequence[Step]) -> None:
    """What falls faster than the gain is a phantom; a fall between a station's and a product's is doubt about products."""
    for step in (one for one in steps if one.step_db >= LEAST_STEP_DB):
        here = rows["recording"] == step.high.recording
        stations = _stations(rows[here])
        for channel_hz, fall in falls(step).items():
            at = here & (rows["channel_hz"] == channel_hz) & (rows["holds"] != "empty")
            if fall.surely:
                _say(rows, at, "phantom", fall.evidence)
            elif any(makers_of(channel_hz, fall.level_dbfs, stations, step.high.band)):
                _say(rows, at & (rows["holds"] == "station"), "unsure", fall.evidence)


def by_noise(rows: pd.DataFrame, steps: Sequence[Step]) -> None:
    """A weak station that less gain leaves in the noise is not denied by it, where the front end makes no products."""
    for step in (one for one in steps if one.step_db >= LEAST_STEP_DB):
        high = rows[rows["recording"] == step.high.recording]
        if high["holds"].eq("phantom").any():
            continue
        stations = _stations(high)
        weak = high[(high["holds"] == "station") & high["flat"]].set_index("channel_hz")["level_dbfs"] - step.step_db
        for index, row in rows[(rows["recording"] == step.low.recording) & rows["channel_hz"].isin(weak.index)].iterrows():
            expected_dbfs = float(weak[row["channel_hz"]])
            hidden = expected_dbfs - row["noise_dbfs"] < SEEN_SNR_DB and row["holds"] in ("empty", "unsure", "spur")
            possible = any(makers_of(int(row["channel_hz"]), expected_dbfs + step.step_db, stations, str(row["band"])))
            if hidden and not possible:
                rows.loc[index, "votes"] = False


def by_mirror(rows: pd.DataFrame, group: Sequence[Measured]) -> None:
    """What one recording's mirror image covers is judged in another, whose mirror lies elsewhere."""
    centre_hz = rows["recording"].map({one.recording: one.centre_hz for one in group})
    covered = rows["evidence"].isin(("image", "partly-image")) & rows["holds"].isin(("phantom", "unsure"))
    for channel_hz in rows.loc[covered, "channel_hz"].unique():
        here = rows["channel_hz"] == channel_hz
        station = here & rows["flat"] & (rows["holds"] == "station")
        if not set(centre_hz[station]) <= set(centre_hz[here & covered]):
            rows.loc[here & covered, "holds"] = "unsure"
            rows.loc[here & covered, "votes"] = False


def by_pause(rows: pd.DataFrame) -> None:
    """A carrier that is modulated in one recording, and not by the mains alone, is a station that pauses in another."""
    bare = (rows["holds"] == "spur") & rows["evidence"].isin(("carrier-only", "unmodulated"))
    bare |= (rows["holds"] == "unsure") & rows["remarks"].fillna("").str.contains("hum-only|unsteady-carrier")
    modulated = set(rows.loc[(rows["holds"] == "station") & rows["flat"], "channel_hz"])
    rows.loc[bare & rows["channel_hz"].isin(modulated), "votes"] = False


def by_makers(rows: pd.DataFrame, group: Sequence[Measured]) -> None:
    """FM: a product of stations that no recording covers together with it cannot be told by its phase.

    It is unsure where its deviation is not an ordinary station's, or one of the makers sends the same programme; and where the
    front end is seen to make products, without an ordinary pilot too.
    """
    covers = [frozenset(one.readings["channel_hz"]) for one in group]
    for gain_db in {one.gain_db for one in group}:
        alike = rows["recording"].isin([one.recording for one in group if one.gain_db == gain_db])
        stations = _stations(rows[alike])
        judged = rows[alike & (rows["holds"] == "station") & (rows["band"] == "fm")]
        makes = rows.loc[alike, "evidence"].str.contains(r"(?:^|;)(?:product-of|falls-)").any()
        odd = _odd(judged, without_pilot=bool(makes))
        for (_, row), is_odd, index in zip(judged.iterrows(), odd, judged.index, strict=True):
            channel_hz, relays_hz = int(row["channel_hz"]), same_programme_hz(row["remarks"], "fm", BY_AUDIO)
            found = [
                makers.formula
                for makers in makers_of(channel_hz, float(row["level_dbfs"]), stations, "fm")
                if (is_odd or not makers.channels_hz.isdisjoint(relays_hz))
                and not any(makers.channels_hz | {channel_hz} <= one for one in covers)
            ]
            if found:
                _say(rows, pd.Series(rows.index == index, rows.index), "unsure", f"perhaps-product-of-{found[0]}")


def _odd(stations: pd.DataFrame, without_pilot: bool) -> pd.Series:
    """Whether pilot or peak deviation are not an ordinary station's, by more than what is uncertain; or there is no pilot."""
    pilot_hz, pilot_sd_hz = (stations[name].astype("float64") for name in ("pilot_dev_hz", "pilot_dev_sd_hz"))
    peak_hz, peak_sd_hz = (stations[name].astype("float64") for name in ("peak_dev_hz", "peak_dev_sd_hz"))
    odd = (pilot_hz + 2.0 * pilot_sd_hz.fillna(0.0) < PILOT_HZ[0]) | (pilot_hz - 2.0 * pilot_sd_hz.fillna(0.0) > PILOT_HZ[1])
    return odd | (peak_hz - 2.0 * peak_sd_hz.fillna(0.0) > PEAK_HZ) | (without_pilot & pilot_hz.isna())


def _stations(rows: pd.DataFrame) -> dict[int, float]:
    """Levels of the stations among them by channel. [dBFS]"""
    stations = rows[rows["holds"] == "station"].sort_values("level_dbfs")
    return dict(zip(stations["channel_hz"].astype(int), stations["level_dbfs"].astype(float), strict=True))


def _say(rows: pd.DataFrame, at: pd.Series, holds: str, evidence: str) -> None:
    rows.loc[at, "holds"] = holds
    rows.loc[at, "evidence"] = [f"{text};{evidence}".strip(";") for text in rows.loc[at, "evidence"]]
