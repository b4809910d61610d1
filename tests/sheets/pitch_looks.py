"""Looks for the tests of pitches: small sets as text, and pictures that nobody had to trace."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium

import throughlight as tl
from plain_camera import CAMERA
from throughlight.darkroom import files
from throughlight.sheets.pitch import Look
from throughlight.sheets.pitch_pictures import LookPicture

MILLIMETRE = 72.0 / 25.4  # points
SET = (
    'title = "Ball on grey"\n'
    + CAMERA
    + """
[subject]
name = "ball"
shape = { kind = "sphere", diameter = "60 mm" }
surface = { reflectance = 0.5 }

[backdrop]
distance = "40 cm"
width = "120 cm"
height = "120 cm"
cloth = "grey paper"

[[head]]
name = "left head"
modifier = "softbox 60x90"
at = { bearing = "-140 deg", distance = "50 cm", height = "5 cm" }
energy = "100 J"
stops = "-2 stop"

[[card]]
name = "white card"
at = ["20 cm", "0 cm", "0 cm"]
width = "20 cm"
height = "30 cm"

[[support]]
name = "rod"
from = ["0 cm", "3 cm", "0 cm"]
to = ["0 cm", "20 cm", "0 cm"]
diameter = "4 mm"

[ambient]
illuminance = "100 lx"
"""
)
PITCH = """
[pitch]
title = "Three balls"
client = "Stones & Sons (demo)"
creator = "Studio North"
look = "Plain"
sentence = "A ball, as it is."
"""
OTHER = SET.replace("-140 deg", "-110 deg").replace('stops = "-2 stop"', 'stops = "-1 stop"')


def look(folder: Path, text: str, *, ratio: float = 1.5, wide: int = 120) -> Look:
    """Return a look whose picture is an even grey, with a number of its own in it."""
    shape = (round(wide / ratio), wide, 3)
    path = folder / f"{abs(hash((text, shape)))}.png"
    files.write_png(path, np.random.default_rng(5).integers(20, 120, shape).astype(np.uint8))
    return Look(tl.loads(text), Path("set.toml"), LookPicture(path, shape[1], shape[0], {}, kept=False))


def text_of(content: bytes) -> list[str]:
    """Return the text of each page, without the marks at which long words may break."""
    with pdfium.PdfDocument(content) as document:
        return [page.get_textpage().get_text_range().replace("\u200b", "").replace("\r\n", "\n") for page in document]


def ink_in_margins(content: bytes, margins: Sequence[float], ground: int = 255) -> list[int]:
    """Return for each page how far a code is from the ground's in the outermost mm: left, top, right, bottom."""
    found = []
    with pdfium.PdfDocument(content) as document:
        for page in document:
            shown = np.asarray(page.render(scale=2.0).to_pil().convert("L")).astype(int)
            high, wide = shown.shape
            left, top, right, bottom = (round(2.0 * MILLIMETRE * side) for side in margins)
            strips = (shown[:, :left], shown[:top], shown[:, wide - right :], shown[high - bottom :])
            found.append(max(int(np.abs(strip - ground).max()) for strip in strips))
    return found
