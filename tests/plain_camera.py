"""The camera of tests that don't care about theirs: full frame, 100 mm, 60 cm before the mark."""

CAMERA = """
[camera]
body = "36x24"
focal = "100 mm"
f_number = 11
shutter = "1/160 s"
iso = 100
at = { bearing = "0 deg", distance = "60 cm" }
"""
