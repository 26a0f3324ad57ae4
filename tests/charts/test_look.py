"""Both looks are legible, also for people who see fewer colours.

Contrast: WCAG 2.2, success criteria 1.4.3 (text 4.5 : 1) and 1.4.11 (marks 3 : 1), with the
relative luminance defined there. Colour vision: matrices of Machado, Oliveira and Fernandes (2009),
severity 1.0, applied to linear RGB (from memory).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from rigledger.charts.look import DARK, LIGHT, SHAPES, Look, shape

VISION = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour: str) -> np.ndarray:
    parts = np.array([int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    weights = np.array([0.2126, 0.7152, 0.0722])
    low, high = sorted(float(linear(held) @ weights) for held in (one, other))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
def test_text_and_marks_stand_out_from_paper_and_band(look: Look) -> None:
    for ground in (look.paper, look.band):
        assert min(contrast(colour, ground) for colour in (look.ink, look.soft)) >= 4.5
        assert min(contrast(colour, ground) for colour in look.series) >= 3


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
def test_the_first_three_series_differ_for_every_colour_vision(look: Look, vision: str) -> None:
    seen = [np.clip(np.array(VISION[vision]) @ linear(colour), 0, 1) for colour in look.series[:3]]
    encoded = [np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055) for c in seen]
    apart = [float(np.linalg.norm(a - b)) for a, b in combinations(encoded, 2)]
    assert min(apart) > 0.1


def test_series_have_shapes_of_their_own() -> None:
    assert len({shape(number) for number in range(len(SHAPES))}) == len(SHAPES) == len(LIGHT.series)
