"""Small sets and studies as texts, cheap to trace."""

from __future__ import annotations

SET = """\
title = "A grey card before a dark cloth"
seed = 7

[camera]
sensor = "36x24 mm"
pixels = [36, 24]
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]
front_element = "50 mm"

[subject]
name = "pebble"
shape = { kind = "sphere", diameter = "60 mm" }
surface = { reflectance = 0.5 }

[[head]]
name = "key"
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "60 deg", distance = "70 cm", height = "20 cm" }
energy = "100 J"
stops = "-3 stop"

[[head]]
name = "fill"
face = { shape = "rectangle", width = "40 cm", height = "30 cm" }
at = { bearing = "-50 deg", distance = "90 cm", height = "40 cm" }
energy = "50 J"
stops = "-3 stop"

[[flag]]
name = "flag"
at = ["30 cm", "0 cm", "45 cm"]
aim = ["60 cm", "0 cm", "45 cm"]
width = "20 cm"
height = "20 cm"
"""

BACKDROP = """
[backdrop]
distance = "80 cm"
width = "150 cm"
height = "120 cm"
cloth = { reflectance = 0.03 }
"""

STUDY = """\
title = "Where the key stands"
set = "set.toml"

[[vary]]
name = "bearing"
key = "head.key.at.bearing"
values = ["40 deg", "60 deg", "80 deg"]

[[vary]]
name = "flag"
key = "flag.flag.present"

[[wanted]]
reading = "subject"
at = "-0.5 stop"

[[wanted]]
reading = "veil"
at_most = "-9 stop"
weight = 0.5

[budget]
tolerance = "0.1 stop"
"""


def write(folder, study=STUDY, the_set=SET):
    """Write a study and its set into a folder and return the study's file."""
    (folder / "set.toml").write_text(the_set, encoding="utf-8")
    file = folder / "evening.toml"
    file.write_text(study, encoding="utf-8")
    return file
