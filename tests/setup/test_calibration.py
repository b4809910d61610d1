"""A calibration file that a set takes in: what it changes, and how its mistakes are said."""

from __future__ import annotations

import pytest
from setup_texts import SET

import throughlight.setup as tls
from throughlight.photometry.flash import flash_meter_exposure
from throughlight.setup import SetupError

KEY = 'calibration = "set.calibration.toml"\n'
FILE = """
photo = "test.dng"

[[head]]
name = "left head"
stops = "+0.5 stop"
stops_between = ["+0.3 stop", "+0.7 stop"]

[backdrop]
stops = "-1 stop"

[camera]
glare = "2.5 %"
glare_between = ["2 %", "3 %"]

[ambient]
illuminance = "40 lx"
"""


def calibrated(folder, file=FILE, text=SET):
    (folder / "set.calibration.toml").write_text(file, encoding="utf-8")
    return tls.loads(KEY + text, name="set.toml", folder=folder)


def mistakes(folder, file, text=SET):
    with pytest.raises(SetupError) as caught:
        calibrated(folder, file, text)
    assert all("\n" not in str(one) for one in caught.value.mistakes)
    return caught.value.mistakes


def test_everything_in_it_reaches_the_set(tmp_path):
    plain, now = tls.loads(SET), calibrated(tmp_path)
    # +0.5 stop is √2 times the light per joule; the power dial stays where it is.
    assert now.heads[0].efficacy == pytest.approx(plain.heads[0].efficacy * 2.0**0.5)
    assert now.heads[0].stops == plain.heads[0].stops
    assert now.backdrop.surface.reflectance[0] == pytest.approx(plain.backdrop.surface.reflectance[0] / 2.0)
    assert now.backdrop.surface.sheen[0] == pytest.approx(plain.backdrop.surface.sheen[0] / 2.0)
    assert now.camera.glare == pytest.approx(0.025)
    assert (plain.ambient, now.ambient.illuminance) == (None, 40.0)


def test_a_set_that_names_none_is_as_it_was(tmp_path):
    assert tls.loads(SET, folder=tmp_path).calibration is None


@pytest.mark.parametrize(
    ("given", "exposure"),
    [
        ('meter = "f/11 at 1 m, ISO 100"', lambda head: flash_meter_exposure(head.meter.f_number, head.meter.iso)),
        ('guide_number = "40 m"', lambda head: head.guide_number**2),
        ('power = "300 W"\nefficacy = "25 lm/W"', lambda head: head.efficacy),
        ('illuminance = "5000 lx at 1 m"', lambda head: head.illuminance.illuminance),
    ],
)
def test_a_head_gives_more_however_it_is_told(tmp_path, given, exposure):
    text = SET.replace('energy = "100 J"', given)
    file = '[[head]]\nname = "left head"\nstops = "+1 stop"\n'
    before, after = tls.loads(text).heads[0], calibrated(tmp_path, file, text).heads[0]
    assert exposure(after) == pytest.approx(2.0 * exposure(before))


def test_a_beam_takes_the_place_of_the_sets(tmp_path):
    file = '[[head]]\nname = "left head"\nbeam = "70 deg"\nbeam_between = ["65 deg", "80 deg"]\n'
    assert calibrated(tmp_path, file).heads[0].beam == pytest.approx(1.2217305)


def test_white_gives_back_no_more_than_all(tmp_path):
    text = SET.replace('cloth = "black velvet"', "cloth = { reflectance = 0.8 }")
    surface = calibrated(tmp_path, '[backdrop]\nstops = "+1 stop"\n', text).backdrop.surface
    assert surface.reflectance == (1.0, 1.0, 1.0)


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(SetupError, match="cannot be read"):
        tls.loads(KEY + SET, folder=tmp_path)


@pytest.mark.parametrize("name", ['"set.exe"', '"a\\u202Eb.toml"', '""', f'"{"x" * 2000}.toml"'])
def test_a_name_that_is_none(tmp_path, name):
    with pytest.raises(SetupError) as caught:
        tls.loads(f"calibration = {name}\n" + SET, name="set.toml", folder=tmp_path)
    (mistake,) = caught.value.mistakes
    assert mistake.key == "calibration"
    assert "set.calibration.toml" in mistake.message


def test_mistakes_in_it_have_file_line_and_key(tmp_path):
    file = '[[head]]\nname = "left head"\nstops = 3\n\n[camera]\nglaer = "2 %"\n'
    one, *others = mistakes(tmp_path, file)
    assert one.file.endswith("set.calibration.toml")
    assert (one.line, one.key) == (3, "head[1].stops")
    assert any('"glare" would fit' in other.message for other in others)


def test_ends_of_an_interval_in_the_wrong_order(tmp_path):
    file = '[backdrop]\nstops = "1 stop"\nstops_between = ["2 stop", "1 stop"]\n'
    (mistake,) = mistakes(tmp_path, file)
    assert (mistake.line, mistake.key) == (3, "backdrop.stops_between")
    assert "the lower first" in mistake.message


def test_what_the_set_does_not_have(tmp_path):
    (stranger,) = mistakes(tmp_path, '[[head]]\nname = "right head"\nstops = "1 stop"\n')
    assert (stranger.line, stranger.key) == (2, "head[1].name")
    assert '"left head" would fit' in stranger.message
    (twice,) = mistakes(tmp_path, '[[head]]\nname = "left head"\n[[head]]\nname = "left head"\n')
    assert "a second time" in twice.message
    without = SET[: SET.index("[backdrop]")] + SET[SET.index("[subject]") :]
    (drop,) = mistakes(tmp_path, '[backdrop]\nstops = "1 stop"\n', without)
    assert "no backdrop" in drop.message
    softbox = SET.replace('face = { shape = "disc", diameter = "18 cm" }', 'modifier = "softbox 60x60"')
    (beam,) = mistakes(tmp_path, '[[head]]\nname = "left head"\nbeam = "70 deg"\n', softbox)
    assert "no beam" in beam.message


def test_no_toml(tmp_path):
    (mistake,) = mistakes(tmp_path, "[[head")
    assert "not TOML" in mistake.message
