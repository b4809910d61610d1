"""Texts of setup files for the tests beside this file."""

SET = """\
title = "Slice on a wire"
seed = 7

[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]

[[head]]
name = "left head"
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "-145 deg", distance = "45 cm", height = "8 cm" }
energy = "100 J"
stops = "-1 stop"

[[flag]]
at = ["-25 cm", "0 cm", "-8 cm"]
width = "15 cm"
height = "30 cm"

[backdrop]
distance = "90 cm"
width = "150 cm"
height = "120 cm"
cloth = "black velvet"

[subject]
name = "slice"
material = { like = "agate", roughness = 0.1 }

[subject.shape]
kind = "slab"
thickness = "5 mm"
outline = { shape = "disc", diameter = "80 mm" }

[[support]]
name = "wire"
from = ["0 mm", "40 mm", "0 mm"]
to = ["0 mm", "30 cm", "0 mm"]
diameter = "0.5 mm"
"""


def changed(old: str, new: str) -> str:
    """Return the set with one passage changed; the passage must stand in it once."""
    assert SET.count(old) == 1, old
    return SET.replace(old, new)


def line_of(text: str, passage: str) -> int:
    """Return the line, counted from 1, in which a passage first stands."""
    return text[: text.index(passage)].count("\n") + 1
