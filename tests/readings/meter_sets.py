"""Small sets as texts for the tests of the meter beside this file."""

from __future__ import annotations

CAMERA = """\
seed = 5

[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]
front_element = "50 mm"
"""

SUBJECT = """
[subject]
name = "slice"
shape = { kind = "slab", outline = { shape = "disc", diameter = "60 mm" }, thickness = "3 mm" }
material = { reduced_scattering = "1.0 1.2 1.5 1/mm", absorption = "0.01 0.02 0.04 1/mm", n = 1.4, roughness = 0.2 }
"""

BACKDROP = """
[backdrop]
distance = "80 cm"
width = "150 cm"
height = "120 cm"
cloth = { reflectance = 0.03 }
"""

LEFT = """
[[head]]
name = "left head"
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "-140 deg", distance = "45 cm", height = "8 cm" }
energy = "100 J"
stops = "-2 stop"
"""

FRONT = """
[[head]]
name = "front head"
face = { shape = "rectangle", width = "40 cm", height = "30 cm" }
at = { bearing = "50 deg", distance = "90 cm", height = "40 cm" }
energy = "50 J"
"""

ROOM = """
[ambient]
illuminance = "200 lx"
"""

SPOTS = """
[[spot]]
name = "middle of the slice"
x = "50 %"
y = "50 %"

[[spot]]
name = "corner"
x = "2 %"
y = "97 %"
"""

WHOLE = CAMERA + SUBJECT + BACKDROP + LEFT + FRONT + ROOM + SPOTS
