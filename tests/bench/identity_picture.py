"""The picture of tests/bench/identity.py: an SVG that reads in black and white."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

LEFT, TOP, WIDTH, HEIGHT = 70, 50, 560, 320
COLOURS = {"speech": "#1b4f72", "music": "#935116", "tone": "#1e8449"}
LEGEND = (
    ("●", "speech"),
    ("□", "music"),
    ("▲", "1 kHz tone"),
    ("- -", "limit: differentially decoded BPSK,"),
    ("", "repeats not averaged"),
)


def drawing(snrs_db: Sequence[float], shares: dict[str, list[float]], limit: Callable[[float], float], each: int) -> str:
    """Share of recordings with the right code over snr, by programme, and the limit as a dashed line."""
    low, high = snrs_db[0], snrs_db[-1]

    def at(snr_db: float, part: float) -> tuple[float, float]:
        return round(LEFT + WIDTH * (snr_db - low) / (high - low), 1), round(TOP + HEIGHT * (1 - part), 1)

    def line(points: Sequence[tuple[float, float]], style: str) -> str:
        return f'<polyline points="{" ".join(f"{x},{y}" for x, y in points)}" fill="none" {style}/>'

    parts = []
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        _, y = at(low, part)
        parts.append(f'<path d="M{LEFT} {y}h{WIDTH}" stroke="#ccc"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4}" text-anchor="end">{part:.0%}</text>')
    for snr_db in range(int(low), int(high) + 1, 2):
        x, y = at(snr_db, 0.0)
        parts.append(f'<path d="M{x} {TOP}v{HEIGHT}" stroke="#eee"/>')
        parts.append(f'<text x="{x}" y="{y + 20}" text-anchor="middle">{snr_db}</text>')
    fine = [float(snr_db) for snr_db in np.linspace(low, high, 101)]
    parts.append(line([at(x, limit(x)) for x in fine], 'stroke="#555" stroke-width="2" stroke-dasharray="7 5"'))
    for programme, values in shares.items():
        colour = COLOURS[programme]
        points = [at(x, y) for x, y in zip(snrs_db, values, strict=True)]
        parts.append(line(points, f'stroke="{colour}" stroke-width="1.5"'))
        parts += [mark(programme, x, y, colour) for x, y in points]
    for number, (shape, text) in enumerate(LEGEND):
        parts.append(f'<text x="{LEFT + 290}" y="{TOP + 215 + 22 * number}"><tspan>{shape}</tspan> {text}</text>')
    title = f"Right PI code in one second of recording, 2 kHz injection, {each} recordings a point"
    parts.append(f'<text x="{LEFT}" y="28" font-size="15">{title}</text>')
    parts.append(
        f'<text x="{LEFT + WIDTH / 2}" y="{TOP + HEIGHT + 44}" text-anchor="middle">level over noise in 200 kHz [dB]</text>'
    )
    middle = TOP + HEIGHT / 2
    parts.append(
        f'<text transform="translate(18 {middle}) rotate(-90)" text-anchor="middle">recordings with the right code</text>'
    )
    box = f'viewBox="0 0 {LEFT + WIDTH + 30} {TOP + HEIGHT + 60}" font-family="sans-serif" font-size="13"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{ground}{"".join(parts)}</svg>\n'


def mark(programme: str, x: float, y: float, colour: str) -> str:
    """A disc, a square or a triangle."""
    if programme == "speech":
        return f'<circle cx="{x}" cy="{y}" r="5" fill="{colour}"/>'
    if programme == "music":
        return f'<rect x="{x - 5}" y="{y - 5}" width="10" height="10" fill="#fff" stroke="{colour}" stroke-width="2"/>'
    return f'<path d="M{x} {y - 6}L{x + 6} {y + 5}L{x - 6} {y + 5}Z" fill="{colour}"/>'
