"""Remarks that mark one programme on several channels."""

from __future__ import annotations

import pandas as pd
import pytest

from bandscan.plans import BY_AUDIO, BY_CODE, plan_for, programmes, relay_word, same_programme_hz, without_relays


def test_words() -> None:
    """The word names the other channel as the trade writes it, and how it was found."""
    assert relay_word("fm", 97_500_000, BY_CODE) == "same-programme-as-97.5:by-code"
    assert relay_word("am", 1_400_000, BY_AUDIO) == "same-programme-as-1400:by-audio"


def test_words_are_read_back_among_others() -> None:
    """Each channel is named once, ascending; other remarks are left alone; a missing remark names nobody."""
    text = "edge;same-programme-as-98.3:by-audio;same-programme-as-97.5:by-code;same-programme-as-97.5:by-audio"
    assert same_programme_hz(text, "fm") == (97_500_000, 98_300_000)
    assert same_programme_hz(text, "fm", BY_CODE) == (97_500_000,)
    assert same_programme_hz("not-in-every-recording;same-programme-as-:by-code", "fm") == ()
    assert same_programme_hz(pd.NA, "fm") == same_programme_hz(None, "am") == same_programme_hz("", "fm") == ()
    assert without_relays(text) == "edge"
    assert without_relays(text, BY_AUDIO) == "edge;same-programme-as-97.5:by-code"
    assert without_relays(pd.NA) == ""


@pytest.mark.parametrize(("region", "band"), [("us", "fm"), ("us", "am"), ("eu", "fm"), ("eu", "am"), ("jp", "fm")])
def test_every_channel_of_a_plan_is_read_back(region: str, band: str) -> None:
    """What is written for a channel is read as that channel, to the hertz."""
    for channel in plan_for(region, band).channels_hz:
        assert same_programme_hz(relay_word(band, channel, BY_CODE), band) == (channel,)


def test_channels_are_grouped_by_programme() -> None:
    """A chain of relays is one programme; a mark on one of two rows is enough; channels outside the list do not count."""
    channels = [88_100_000, 90_100_000, 92_100_000, 94_100_000, 96_100_000]
    remarks = ["same-programme-as-92.1:by-code", None, "same-programme-as-96.1:by-audio", "same-programme-as-107.9:by-code", ""]
    assert programmes(channels, remarks, "fm") == [(88_100_000, 92_100_000, 96_100_000), (90_100_000,), (94_100_000,)]
    assert programmes([], [], "fm") == []
