"""Where the file's exposure contradicts the set: said in stops, and taken over."""

from __future__ import annotations

import pytest

from throughlight import setup as tls
from throughlight.darkroom.capture import ExposureData
from throughlight.match.settings import as_taken

SET = tls.loads("""
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 11
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "60 cm"]

[[head]]
face = { shape = "disc", diameter = "18 cm" }
at = ["-40 cm", "0 cm", "-30 cm"]
energy = "100 J"
""")


def test_a_photo_with_the_sets_settings_contradicts_nothing():
    # Engraved 1/125 s and f/11 stand for 2⁻⁷ s and 2^3.5; cameras write either.
    for data in (ExposureData(11.0, 1 / 125, 100.0, 0.1, True), ExposureData(2**3.5, 2**-7, 100.0, 0.1, True)):
        taken = as_taken(SET, data)
        assert taken.contradictions == taken.notes == ()
        assert taken.setup == SET


def test_each_contradiction_is_told_in_stops_and_taken_over():
    taken = as_taken(SET, ExposureData(8.0, 1 / 60, 400.0, 0.05, True))
    aperture, shutter, iso, focal = taken.contradictions
    # 2·log2(11/8) = 0.92; log2(125/60) = 1.06; log2(4) = 2.
    assert "f/8" in aperture
    assert "0.9 stops brighter" in aperture
    assert "1/60 s" in shutter
    assert "1.1 stops brighter for light that isn't flash" in shutter
    assert "ISO 400" in iso
    assert "2.0 stops brighter" in iso
    assert "50" in focal or "5 cm" in focal
    assert "the set's is kept" in focal
    camera = taken.setup.camera
    assert (camera.f_number, camera.shutter, camera.iso, camera.focal) == (8.0, 1 / 60, 400.0, 0.1)
    # What was left out in the set's file followed from its own f-number and still has to let the pupil through.
    assert camera.front_element >= camera.focal / camera.f_number


def test_a_wide_aperture_still_fits_the_lens():
    taken = as_taken(SET, ExposureData(f_number=1.4))
    assert taken.setup.camera.front_element == pytest.approx(0.1 / 1.4)


def test_what_the_file_leaves_out_is_said():
    taken = as_taken(SET, ExposureData())
    assert taken.contradictions == ()
    assert "nothing of f-number, shutter time and ISO speed" in taken.notes[0]
    assert "nothing of ISO speed; the set's is taken" in as_taken(SET, ExposureData(11.0, 1 / 125)).notes[0]


def test_a_flash_that_the_camera_did_not_notice_is_only_a_note():
    taken = as_taken(SET, ExposureData(11.0, 1 / 125, 100.0, 0.1, False))
    assert taken.contradictions == ()
    assert "noticed no flash" in taken.notes[0]


def test_settings_that_cannot_be_are_left_out_and_said():
    # 65535 is what Exif writes for an ISO speed that doesn't fit the tag (CIPA DC-008).
    taken = as_taken(SET, ExposureData(1e9, 1e9, 65535.0, 1e6, True))
    assert taken.contradictions == ()
    assert taken.setup == SET
    named = ("f-number", "shutter time", "ISO speed", "focal length")
    assert [f"the file's {name} makes no sense" in note for name, note in zip(named, taken.notes, strict=True)] == [
        True
    ] * 4
