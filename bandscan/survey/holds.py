"""What each channel holds, decided for the whole survey from the READINGS of its captures.

First every reading is judged by itself, with its neighbours in the same recording in view (`holds_fm`, `holds_am`); then the
readings of one channel from several recordings are brought to one decision. The evidence goes into `remarks`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import pandas as pd

from bandscan import tables
from bandscan.model import FLAT_SHARE, OVERLOAD_SHARE, WITHIN_ROUNDING, Measured
from bandscan.plans import plan_for
from bandscan.survey import together
from bandscan.survey.aliases import aliases
from bandscan.survey.gains import Step, gain_steps
from bandscan.survey.holds_am import judge_am
from bandscan.survey.holds_fm import judge_fm
from bandscan.units import from_db

_ONLY_OF_STATIONS = (
    *("pilot", "pilot_dev_hz", "pilot_dev_sd_hz", "peak_dev_hz", "peak_dev_sd_hz"),
    *("rds_pi", "rds_ps", "audio_snr_db", "audio_sd_db", "stereo_snr_db", "level_30db_dbfs", "am_depth", "am_stereo"),
)
_OF_A_STEADY_STATION = (
    *("pilot_dev_hz", "pilot_dev_sd_hz", "peak_dev_hz", "peak_dev_sd_hz"),
    *("audio_snr_db", "audio_sd_db", "stereo_snr_db", "level_30db_dbfs"),
)
_ONLY_OF_EMISSIONS = ("level_dbfs", "level_sd_db", "snr_db", "carrier_error_hz", "carrier_sd_hz")

# a legal pilot deviates by 6 to 7.5 kHz (47 CFR 73.322); badly set ones go down to 4 kHz (from memory)
LEAST_PILOT_HZ = 4e3
_SURELY = 3.0  # standard deviations
_SHAKEN = 0.03  # scatter of the envelope over noise's: made stations without echoes have 0.001, weakened pilots 0.09 and more


def decide(group: Sequence[Measured], steps: Sequence[Step] | None = None) -> pd.DataFrame:
    """SURVEY rows of one survey's captures: one row per capture and channel, `holds` the same in all rows of a channel.

    `steps` are the pairs of two gains among them, where they are known already.
    """
    parts = []
    for one in group:
        plan = plan_for(one.region, one.band)
        judged = judge_fm(one.readings, plan) if one.band == "fm" else judge_am(one.readings, plan)
        part = one.readings.assign(
            holds=[judgement.holds for judgement in judged], evidence=[judgement.evidence for judgement in judged]
        )
        own_db = pd.Series([judgement.level_db for judgement in judged], index=part.index, dtype="float64")
        part["snr_db"] = (own_db - part["noise_dbfs"]).fillna(part["snr_db"])
        part["level_dbfs"] = own_db.fillna(part["level_dbfs"])
        # what a clipped recording shows can be made of the clipping, what has a part of one step, of the rounding
        small = part["remarks"].fillna("").str.contains(WITHIN_ROUNDING)
        doubtful = (part["holds"] == "station") & (small | (one.overload_share > OVERLOAD_SHARE))
        part.loc[doubtful, "holds"] = "unsure"
        if one.overload_share > OVERLOAD_SHARE:
            part.loc[doubtful, "evidence"] = [f"{text};overload".strip(";") for text in part.loc[doubtful, "evidence"]]
        part["recording"] = one.recording
        part["flat"] = (part["channel_hz"] - one.centre_hz).abs() <= FLAT_SHARE * one.rate_hz
        part["votes"] = ~small & ~tables.blind(part)  # where it stands over the rounding, that tells
        # a mean over a station and its absence is no figure of either
        intermittent = part["remarks"].fillna("").str.split(";").map(lambda words: tables.INTERMITTENT in words)
        part.loc[intermittent, list(_OF_A_STEADY_STATION)] = float("nan")
        parts.append(part)
    rows = pd.concat(parts, ignore_index=True)
    steps = gain_steps(group) if steps is None else steps
    together.by_gain(rows, steps)
    together.by_noise(rows, steps)
    for alias in aliases(group, rows, steps):
        here = (rows["channel_hz"] == alias.channel_hz) & (rows["recording"] == alias.recording)
        text = rows.loc[here, "evidence"].item()
        rows.loc[here, "evidence"] = f"{text};{alias.evidence(rows.loc[here, 'band'].item())}".strip(";")
        if alias.own:
            # the station of the channel's own is judged where it is not covered by the alias
            rows.loc[here, "flat"] = False
        else:
            rows.loc[here, "holds"] = "phantom" if alias.proven else "unsure"
    together.by_mirror(rows, group)
    together.by_pause(rows)
    together.by_makers(rows, group)
    for _, channel in rows.groupby("channel_hz", sort=False):
        word, remark = _agreed(channel)
        rows.loc[channel.index, "holds"] = word
        if remark:
            rows.loc[channel.index, "evidence"] = [f"{text};{remark}".strip(";") for text in channel["evidence"]]
    _weak_pilots(rows)
    # of a channel that holds no carrier of its own, or a bare one, hum tells nothing
    humless = ~rows["holds"].isin(("station", "unsure"))
    rows.loc[humless, "remarks"] = [
        ";".join(word for word in words.split(";") if word != "hum-only") for words in rows.loc[humless, "remarks"].fillna("")
    ]
    rows["remarks"] = [
        ";".join(part for part in (evidence, "" if pd.isna(remark) else remark) if part)
        for evidence, remark in zip(rows["evidence"], rows["remarks"], strict=True)
    ]
    rows.loc[rows["holds"] != "station", list(_ONLY_OF_STATIONS)] = pd.NA
    rows.loc[rows["holds"] == "empty", list(_ONLY_OF_EMISSIONS)] = float("nan")
    return tables.check(rows[tables.SURVEY.names], tables.SURVEY)


def _weak_pilots(rows: pd.DataFrame) -> None:
    """A station's line at 19 kHz that is surely too weak for a stereo pilot is none: no lamp need light on it.

    It was evidence of a station all the same; its deviation stays, to be looked at. Echoes, which shake the envelope, weaken a
    pilot too, and leave it one.
    """
    snr = from_db(rows["snr_db"].to_numpy(dtype="float64"))
    # what noise leaves of a steady carrier's envelope (Rice distribution)
    steady = rows["envelope_scatter"].astype("float64") - (2 * snr + 1) / (snr + 1) ** 2 < _SHAKEN
    most_hz = rows["pilot_dev_hz"].astype("float64") + _SURELY * rows["pilot_dev_sd_hz"].astype("float64")
    weak = (rows["holds"] == "station") & rows["pilot"].eq(other=True).fillna(value=False) & steady & (most_hz < LEAST_PILOT_HZ)
    rows.loc[weak, "pilot"] = False
    rows.loc[weak, "stereo_snr_db"] = float("nan")
    rows.loc[weak, "evidence"] = [f"{text};weak-pilot".strip(";") for text in rows.loc[weak, "evidence"]]


def _agreed(channel: pd.DataFrame) -> tuple[str, str]:
    """One word for a channel seen in several recordings, and a remark where they differ.

    What one recording proves to be made in the receiver is so in all. Else, of those that have a vote, recordings that have the
    channel in their flat middle speak first, then the majority; at a tie a station in one and nothing in another is `unsure`,
    since a station stays where it is when the receiver's centre moves.
    """
    channel = channel[channel["votes"]] if channel["votes"].any() else channel
    if (channel["holds"] == "phantom").any():
        return "phantom", ""
    words = channel.loc[channel["flat"], "holds"] if channel["flat"].any() else channel["holds"]
    counts = Counter(words).most_common()
    if len(counts) == 1:
        return str(counts[0][0]), ""
    if counts[0][1] > counts[1][1]:
        return str(counts[0][0]), "recordings-differ"
    return "unsure", "recordings-differ"
