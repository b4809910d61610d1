"""Sets of candidates read from what is known of the study's set are those that a reader knowing nothing makes of them.

And so are the keys that say which sets are traced once, and the ways to the light in a thick body.
"""

from __future__ import annotations

import numpy as np
import pytest
from small_studies import BACKDROP, SET, STUDY, write

from throughlight.setup import SetupError, loads
from throughlight.setup.read import checked
from throughlight.stage.build import build
from throughlight.study.file import load_study
from throughlight.study.light import geometry_key
from throughlight.study.reading import Reader, setup_of
from throughlight.study.space import candidates, raw_of
from throughlight.study.staging import Stager

VARIED = STUDY.replace(
    "[[wanted]]",
    """[[vary]]
name = "power"
key = 'head.key.stops'
values = ["-4 stop", "-2 stop"]

[[vary]]
name = "pebble"
key = "subject.surface.reflectance"
values = [0.5, 0.7]

[[vary]]
name = "cloth"
key = "backdrop.cloth.reflectance"
values = [0.03, 0.06]

[[wanted]]""",
    1,
)
CALIBRATED = 'calibration = "found.toml"\n' + SET


def test_read_as_if_nothing_were_known(tmp_path):
    study = load_study(write(tmp_path, VARIED, SET + BACKDROP))
    reader, every = Reader(study), candidates(study)
    assert len(every) == 48
    geometries = set()
    for candidate in every:
        plain, findings = checked(raw_of(study, candidate), study.the_set.folder, study.the_set.kit)
        assert not findings
        setup, geometry = reader.read(candidate)
        assert setup == plain
        assert geometry == geometry_key(plain)
        geometries.add(geometry)
    assert len(geometries) == 24  # powers alone make no other


def test_what_is_the_same_is_not_read_again(tmp_path):
    study = load_study(write(tmp_path, VARIED, SET + BACKDROP))
    reader = Reader(study)
    one, other = (reader.read(candidates(study)[place])[0] for place in (0, 30))
    assert one.heads[1] is other.heads[1]
    assert one.heads[0] is not other.heads[0]


def test_calibration_is_taken_in(tmp_path):
    (tmp_path / "found.toml").write_text('[[head]]\nname = "fill"\nstops = "+0.2 stop"\n', encoding="utf-8")
    study = load_study(write(tmp_path, STUDY, CALIBRATED))
    plain = loads(CALIBRATED, folder=tmp_path)
    setup, geometry = Reader(study).read(candidates(study)[1])  # bearing 40 deg, flag in
    assert setup.heads[1] == plain.heads[1]
    assert geometry != geometry_key(plain)


def test_a_doubt_is_told_for_each_candidate_of_its_geometry(tmp_path):
    """A flag in the picture is none the better for another power of a head."""
    shown = SET.replace('at = ["30 cm", "0 cm", "45 cm"]', 'at = ["30 cm", "0 cm", "45 cm"]\nroll = "0 deg"')
    text = VARIED.replace('"40 deg", "60 deg", "80 deg"', '"60 deg"').replace("flag.flag.present", "flag.flag.at")
    text = text.replace(
        'key = "flag.flag.at"',
        "key = \"flag.flag.at\"\nvalues = [['30 cm', '0 cm', '45 cm'], ['2 cm', '0 cm', '45 cm']]",
    )
    study = load_study(write(tmp_path, text, shown + BACKDROP))
    reader, told = Reader(study), []
    for candidate in candidates(study):
        try:
            reader.read(candidate)
            told.append(None)
        except SetupError as trouble:
            told.append(str(trouble))
            with pytest.raises(SetupError) as again:
                setup_of(study, candidate)
            assert str(again.value) == told[-1]
    assert told[:8] == [None] * 8
    assert all("comes into the frame" in one for one in told[8:])


def test_ways_to_the_light_are_kept(monkeypatch):
    """A thick body: its cells are found once, its ways once for each light; the tables stay what they are."""
    from throughlight.trace import glow

    matter = 'material = { reduced_scattering = "1 1/mm", absorption = "0.02 1/mm", g = 0.6, n = 1.4 }'
    thick = SET.replace("surface = { reflectance = 0.5 }", matter)
    counted = {"_inside": 0, "_led": 0}
    for name in counted:
        real = getattr(glow, name)
        monkeypatch.setattr(
            glow, name, lambda *args, name=name, real=real: counted.update({name: counted[name] + 1}) or real(*args)
        )
    sets = [thick, thick.replace('at = ["30 cm", "0 cm", "45 cm"]', 'at = ["35 cm", "0 cm", "45 cm"]')]
    sets.append(thick.replace('bearing = "60 deg"', 'bearing = "140 deg"'))
    stager = Stager()
    staged = [stager.staged(str(place), loads(text)).stage for place, text in enumerate(sets)]
    assert counted == {"_inside": 1, "_led": 2}
    assert staged[0].shapes["lead"].any()
    for text, stage in zip(sets, staged, strict=True):
        fresh, _ = build(loads(text))
        assert all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in zip(stage, fresh, strict=True))
