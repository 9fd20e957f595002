"""The receiver's mirror image, told from a station of its own by its phase against the original."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from bandscan.dsp.mirror import MirrorSum, TurnedMirror, find_axis

SIZE, FRAMES = 1200, 90
CENTRE, HALF = 300, 40  # the original at +300, its image at -300
Wave = npt.NDArray[np.complex128]


def white(seed: int) -> Wave:
    """Spectra of white noise of power 1 in each bin; shape (FRAMES, SIZE)."""
    parts = np.random.default_rng(seed).standard_normal((2, FRAMES, SIZE)) * math.sqrt(0.5)
    return parts[0] + 1j * parts[1]


def band(seed: int, centre: int, power: float) -> Wave:
    """An emission of a given power in each of the bins around `centre`."""
    spectra = np.zeros((FRAMES, SIZE), complex)
    bins = np.arange(centre - HALF, centre + HALF + 1) % SIZE
    spectra[:, bins] = white(seed)[:, bins] * math.sqrt(power)
    return spectra


def with_image(spectra: Wave, image_db: float) -> Wave:
    """x + g conj(x), as gains and phases of I and Q that differ make it; in the spectrum conj(x) is conj(X[-k])."""
    gain = 10 ** (image_db / 20) * np.exp(1.1j)
    return spectra + gain * np.conj(spectra[:, -np.arange(SIZE) % SIZE])


def image_at(spectra: Wave, centre: int = -CENTRE) -> tuple[float, float]:
    """Share and significance of the image in the channel around `centre`."""
    found = MirrorSum(SIZE)
    for row in spectra:
        found.add(row.astype(np.complex64))
    return found.image(centre, HALF)


@pytest.mark.parametrize("image_db", [-20.0, -35.0, -45.0])
def test_an_image_far_over_the_noise_is_all_that_stands_there(image_db: float) -> None:
    """60 dB of signal, its image 15 dB over the noise or more: a share of at least 97 %, beyond doubt."""
    share, significance = image_at(with_image(band(1, CENTRE, 1e6), image_db) + white(2))
    assert share == pytest.approx(1 / (1 + 1 / 10 ** ((60 + image_db) / 10)), abs=0.01)
    assert significance > 20


def test_an_image_under_a_station_has_its_share() -> None:
    """An image as strong as the station on its channel is half of what stands there, within three of its own 1.2 %."""
    spectra = with_image(band(3, CENTRE, 1e6), -35.0) + band(4, -CENTRE, 1e6 * 10**-3.5)
    share, significance = image_at(spectra)
    assert share == pytest.approx(0.5, abs=0.04)
    assert significance > 20


def test_two_stations_are_no_image_of_each_other() -> None:
    """Stations of their own on both sides: the share is what chance leaves of 7,290 products, and not significant."""
    share, significance = image_at(band(5, CENTRE, 1e6) + band(6, -CENTRE, 1e5) + white(7))
    assert share < 10 / (FRAMES * (2 * HALF + 1))
    assert significance < math.sqrt(10)


def test_noise_passes_as_seldom_as_stated() -> None:
    """Significance s is passed by noise with probability exp(-s^2): at s = 1.5 that is 10.5 %, of 300 channels 32 +-21.

    The mirror channels stand 20 dB higher, since only what lies well under its mirror can be an image.
    """
    places = (50, 140, 230, 320, 410, 500)
    passed = 0
    for seed in range(50):
        spectra = white(100 + seed)[:20]
        spectra[:, 1 : SIZE // 2] *= 10
        found = MirrorSum(SIZE)
        for row in spectra.astype(np.complex64):
            found.add(row)
        passed += sum(found.image(-place, 40)[1] > 1.5 for place in places)
    assert 300 * math.exp(-2.25) - 21 < passed < 300 * math.exp(-2.25) + 21


def test_the_original_is_not_its_images_image() -> None:
    """Receivers reject an image by far more than 15 dB: the stronger of the two is the station."""
    assert image_at(with_image(band(1, CENTRE, 1e6), -30.0) + white(2), CENTRE) == (0.0, 0.0)


def test_silence_has_no_image() -> None:
    """Zeros, and nothing added, give no share and no significance."""
    assert image_at(np.zeros((3, SIZE), complex)) == (0.0, 0.0)
    assert MirrorSum(SIZE).image(-CENTRE, HALF) == (0.0, 0.0)


def test_a_channel_around_the_centre_wraps_its_bins() -> None:
    """Bins below zero are those at the spectrum's end: an image 30 bins from the centre is found too."""
    spectra = with_image(band(8, 50, 1e6), -30.0) + white(9)
    share, significance = image_at(spectra, centre=-50)
    assert share > 0.9
    assert significance > 20


def samples(places: tuple[int, ...], seed: int, bare: bool = False) -> Wave:
    """Emissions of 1, 81 bins wide (or bare carriers), around places of a transform of SIZE, and noise 40 dB under them."""
    count = FRAMES * SIZE
    dice = np.random.default_rng(seed)
    wave = 0.01 * dice.standard_normal((count, 2)) @ np.array([1.0, 1j])
    for place in places:
        spectrum = np.zeros(count, complex)
        half = 0 if bare else HALF * FRAMES
        bins = np.arange(place * FRAMES - half, place * FRAMES + half + 1) % count
        spectrum[bins] = np.exp(2j * np.pi * dice.random(len(bins)))
        wave += np.fft.ifft(spectrum) * count / math.sqrt(len(bins))
    return wave


def shifted(wave: Wave, image_db: float, axis: float) -> npt.NDArray[np.complex64]:
    """The wave with its image, all of it shifted by the axis (cycles per sample), in frames."""
    both = wave + 10 ** (image_db / 20) * np.exp(1.1j) * np.conj(wave)
    return (both * np.exp(2j * np.pi * axis * np.arange(len(both)))).astype(np.complex64).reshape(FRAMES, SIZE)


@pytest.mark.parametrize("axis", [0.3e-6, -2e-5, 0.04, -0.06])
def test_an_image_about_another_axis_is_told(axis: float) -> None:
    """x + g conj(x), shifted by d: the square's line is found within 0.05 of a bin of all samples, and the image 35 dB down
    about it (5 dB over noise that stands 40 dB lower), of which about the centre nothing is left."""
    frames = shifted(samples((CENTRE,), 11), -35.0, axis)
    found = find_axis(frames)
    assert found == pytest.approx(axis, abs=0.025 / frames.size)
    centre = round(-CENTRE + axis * SIZE)
    share, significance = TurnedMirror(frames, found or 0.0).image(centre, HALF)
    assert share > 0.7
    assert significance > 20


@pytest.mark.parametrize(("places", "bare"), [((300, 110), False), ((300, 110), True), ((300, -180, 95), True)])
def test_without_an_image_there_is_no_other_axis(places: tuple[int, ...], bare: bool) -> None:
    """Two stations are none of each other's images, and bare carriers, whose sums are lines in the square as well, are not."""
    assert find_axis(shifted(samples(places, 12, bare), -90.0, 0.02)) is None


def test_silence_has_no_axis() -> None:
    """Zeros hold no line."""
    assert find_axis(np.zeros((3, SIZE), np.complex64)) is None
