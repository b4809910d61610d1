"""A set and studies about it, as texts, for the tests beside this file."""

from __future__ import annotations

from pathlib import Path

import pytest

from throughlight.setup import Mistake, SetupError
from throughlight.study.file import load_study
from throughlight.study.question import Study

SET = """\
# A slice before velvet.
title = "Slice"

[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]  # on the tall tripod

[[head]]  # the old one
name = "left head"
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "-130 deg", distance = "45 cm", height = "8 cm" }
energy = "100 J"
stops = "-1 stop"

[[head]]
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "130 deg", distance = "45 cm" }
energy = "200 J"  # full
stops = "-2 stop"

[[flag]]
at = ["-25 cm", "0 cm", "-8 cm"]
width = "15 cm"
height = "30 cm"

[[flag]]
# cut from board
at = ["25 cm", "0 cm", "-8 cm"]
width = "15 cm"
height = "30 cm"

[[card]]
name = "fill"
at = ["0 cm", "40 cm", "0 cm"]
width = "30 cm"
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

[wanted]
subject = "+0.5 stop"
backdrop_under = "5 stop"
veil = "-6 stop"

[[spot]]
name = "rim"
x = "50 %"
y = "30 %"
"""

HEAD = 'set = "set.toml"\n'


def vary(key: str, rest: str = "", name: str = "") -> str:
    """Return a [[vary]] table."""
    label = f'name = "{name}"\n' if name else ""
    return f"[[vary]]\n{label}key = '{key}'\n{rest}\n"


def write(folder: Path, study: str, setup: str = SET) -> Path:
    """Write a set and a study about it; return the study's file."""
    (folder / "set.toml").write_text(setup, encoding="utf-8")
    file = folder / "study.toml"
    file.write_text(study, encoding="utf-8")
    return file


def study_of(folder: Path, *parts: str, setup: str = SET) -> Study:
    """Return the study of these parts."""
    return load_study(write(folder, HEAD + "".join(parts), setup))


def mistakes_of(folder: Path, *parts: str, setup: str = SET, head: str = HEAD) -> list[Mistake]:
    """Return what is wrong with the study of these parts, each checked to be one sentence with its place."""
    with pytest.raises(SetupError) as caught:
        load_study(write(folder, head + "".join(parts), setup))
    assert all("\n" not in str(mistake) for mistake in caught.value.mistakes)
    assert all(mistake.line > 0 for mistake in caught.value.mistakes)
    return caught.value.mistakes


def refused(file: Path) -> list[Mistake]:
    """Return what is wrong with a study file; nothing when it is right."""
    try:
        load_study(file)
    except SetupError as trouble:
        return trouble.mistakes
    return []
