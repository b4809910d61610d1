"""The power reading against hand calculation (C = 250 lx·s, ISO 100; I = Q/π on the axis of a Lambertian face)."""

from __future__ import annotations

import json
import math

import pytest

from throughlight.readings.power import power_lines, power_reading
from throughlight.setup import loads

CAMERA = """
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
"""


def head(output, face='{ shape = "disc", diameter = "20 cm" }'):
    return f'[[head]]\nname = "left"\nat = ["-1 m", "0 m", "0 m"]\nface = {face}\n{output}\n'


def reading_of(*heads):
    return power_reading(loads(CAMERA + "\n".join(heads)))


def test_quarter_power():
    """400 J turned 2 stops down is 100 J; at 35 lm·s/J 3500 lm·s, 1114.08 cd·s; 20 cm disc 1 m away: ×1/1.01."""
    (left,) = reading_of(head('energy = "400 J"\nstops = "-2 stops"')).heads
    assert left.asked == pytest.approx(100, rel=1e-12)
    assert left.output.luminous_energy == pytest.approx(3500, rel=1e-9)
    assert left.output.axial_intensity == pytest.approx(3500 / math.pi, rel=1e-9)
    near = 3500 / math.pi / 1.01  # r²/(r²+d²) against r²/d²
    assert left.output.meter_f_number_at_1m == pytest.approx(math.sqrt(near * 100 / 250), rel=1e-9)
    assert left.has_it is True
    assert left.complaint is None


def test_more_than_full():
    reading = reading_of(head('energy = "400 J"\nstops = "1 stop"'))
    assert reading.heads[0].has_it is False
    assert reading.complaints == ("left is asked for 1.0 stops more than it has (800 J of 400 J)",)
    assert "1.0 stops more than it has" in dict(power_lines(reading))["left"]


def test_lower_than_the_range():
    reading = reading_of(head('energy = "400 J"\nstops = "-7.5 stops"\nrange = "6 stops"'))
    assert reading.heads[0].has_it is False
    assert reading.heads[0].too_little == pytest.approx(1.5, rel=1e-9)
    assert "1.5 stops lower than its range of 6 stops" in reading.complaints[0]


@pytest.mark.parametrize("stops", ["0 stops", "-6 stops"])
def test_ends_of_the_range_are_had(stops):
    assert reading_of(head(f'energy = "400 J"\nstops = "{stops}"\nrange = "6 stops"')).complaints == ()


def test_guide_number_has_no_joules():
    """GN 36 m at ISO 100 is 3240 cd·s; a stop down, half."""
    (left,) = reading_of(head('guide_number = "36 m"\nstops = "-1 stop"')).heads
    assert left.asked is None
    assert left.output.axial_intensity == pytest.approx(1620, rel=1e-9)
    assert left.has_it is True


def test_meter_reading_does_not_tell_full_power():
    """f/11 at 1 m, ISO 100, and a stop more: f/15.6, and nobody knows whether the head has it."""
    reading = reading_of(head('meter = { f_number = 11, distance = "1 m", iso = 100 }\nstops = "1 stop"'))
    (left,) = reading.heads
    assert left.output.meter_f_number_at_1m == pytest.approx(11 * math.sqrt(2), rel=1e-9)
    assert left.has_it is None
    assert reading.complaints == ()
    assert dict(power_lines(reading))["left"].startswith("1 stop over the meter reading; ")
    assert "f/15.6 (ISO 100)" in dict(power_lines(reading))["left"]


def test_tube_side_on():
    """A Lambertian tube sends π² times its side-on intensity: 3500 lm·s is 354.6 cd·s."""
    (left,) = reading_of(head('energy = "100 J"', '{ shape = "tube", length = "30 cm", diameter = "2 cm" }')).heads
    assert left.output.axial_intensity == pytest.approx(3500 / math.pi**2, rel=1e-9)


def test_json_has_units_in_its_keys():
    (told,) = json.loads(json.dumps(reading_of(head('energy = "1200 J"')).as_json(), allow_nan=False))["heads"]
    assert told["asked_J"] == 1200
    assert told["luminous_energy_lm_s"] == pytest.approx(42000)
    assert told["has_it"] is True
    assert dict(power_lines(reading_of(head('energy = "1200 J"'))))["left"].startswith("1200 J, at full; 42000 lm·s")
