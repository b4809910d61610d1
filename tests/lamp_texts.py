"""LM-63 files made up for tests."""

from __future__ import annotations

import math

FIVES = tuple(range(0, 91, 5))


def lambertian(angle):
    """A panel of 1000 cd."""
    return 1000.0 * math.cos(math.radians(angle)) if angle < 90 else 0.0


def lamp_text(
    verticals=FIVES, horizontals=(0,), candela=None, *, first="IESNA:LM-63-2002", tilt="NONE", after_tilt="",
    lumens=-1, multiplier=1, kind=1, units=2, opening=(0.6, 0.9, 0), factors="1 1 150",
):  # fmt: skip
    """Return a file; `candela` is a function of (vertical, horizontal), or None for the Lambertian panel."""
    of = (lambda v, h: lambertian(v)) if candela is None else candela
    planes = "\n".join(" ".join(f"{of(v, h):.10g}" for v in verticals) for h in horizontals)
    head = f"{first}\n[TEST] none\n[MANUFAC] nobody\n[MORE] at all\n" if first else "a lamp of nobody's\n"
    counts = f"1 {lumens} {multiplier} {len(verticals)} {len(horizontals)} {kind} {units}"
    sizes = " ".join(str(one) for one in opening)
    angles = f"{' '.join(map(str, verticals))}\n{' '.join(map(str, horizontals))}"
    return f"{head}TILT={tilt}\n{after_tilt}{counts} {sizes}\n{factors}\n{angles}\n{planes}\n"
