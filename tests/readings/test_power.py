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


def test_lamp_in_watts():
    """300 W · 25 lm/W = 7500 lm; a stop down 3750 lm, 1193.66 cd; over 1/125 s 30 lm·s, 9.549 cd·s."""
    reading = reading_of(head('power = "300 W"\nefficacy = "25 lm/W"\nstops = "-1 stop"'))
    (told,) = reading.as_json()["heads"]
    assert (told["kind"], told["given_by"]) == ("continuous", "power")
    assert (told["asked_W"], told["full_W"], told["asked_J"]) == (150, 300, None)
    assert told["luminous_flux_lm"] == pytest.approx(3750, rel=1e-12)
    assert told["axial_intensity_cd"] == pytest.approx(3750 / math.pi, rel=1e-9)
    assert told["luminous_energy_lm_s"] == pytest.approx(30, rel=1e-12)
    near = 3750 / math.pi / 1.01
    assert told["illuminance_at_1_m_lx"] == pytest.approx(near, rel=1e-9)
    assert told["meter_f_number_at_1_m_iso_100"] == pytest.approx(math.sqrt(near / 125 * 100 / 250), rel=1e-9)
    words = dict(power_lines(reading))["left"]
    assert words.startswith("150 W, 1 stop under full; 3750 lm, 1190 cd on the axis; over the shutter time a meter")


def test_lamp_read_in_lux_does_not_tell_full_power():
    """5000 lx at 1 m, half a second: 2500 lx·s there, f/31.6 at ISO 100 (C = 250)."""
    slow = CAMERA.replace("1/125 s", "0.5 s")
    (left,) = power_reading(loads(slow + head('illuminance = "5000 lx at 1 m"'))).heads
    assert left.has_it is None
    assert left.as_json()["illuminance_at_1_m_lx"] == pytest.approx(5000, rel=1e-9)
    assert left.output.meter_f_number_at_1m == pytest.approx(31.6228, abs=5e-5)


def test_lamp_asked_for_more_than_it_has():
    reading = reading_of(head('power = "300 W"\nefficacy = "25 lm/W"\nstops = "1 stop"'))
    assert reading.complaints == ("left is asked for 1.0 stops more than it has (600 W of 300 W)",)


def test_gel_and_grid_are_told():
    """A neutral gel of one stop and a honeycomb; the axis feels only the gel."""
    reading = reading_of(head('energy = "100 J"\ngel = { transmittance = 0.5, name = "net" }\ngrid = "40 deg"'))
    (told,) = reading.as_json()["heads"]
    assert (told["kind"], told["gel"]) == ("flash", "net")
    assert told["gel_transmittance"] == pytest.approx(0.5, rel=1e-9)
    assert 0.03 < told["grid_transmittance"] < 0.05
    assert told["luminous_energy_lm_s"] == pytest.approx(3500 * 0.5 * told["grid_transmittance"], rel=1e-9)
    assert told["axial_intensity_cd_s"] == pytest.approx(3500 / math.pi * 0.5, rel=1e-9)
    assert told["luminous_flux_lm"] is None
    words = dict(power_lines(reading))["left"]
    assert words.startswith("100 J, at full, behind net (50 % passes), grid (")
    assert "557 cd·s on the axis" in words
