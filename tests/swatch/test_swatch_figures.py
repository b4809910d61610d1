"""A new piece's figures: leaves, laboratory words, stops by thickness, what stays open, the entry, the chart."""

from __future__ import annotations

import math
import time
import tomllib

import numpy as np
import pytest

from throughlight.kit import Kit
from throughlight.readings.open_points import open_points
from throughlight.readings.piece import read_piece
from throughlight.readings.thickness import STOP_IN_DENSITY, lab, lab_ends, losses
from throughlight.setup import SetupError
from throughlight.setup.own_kit import shelf_of
from throughlight.setup.piece_sentences import tables_from
from throughlight.setup.pieces import piece_from
from throughlight.sheets.piece_chart import draw_chart
from throughlight.sheets.piece_entry import entry_text, put_into_kit
from throughlight.sheets.piece_json import piece_json
from throughlight.sheets.piece_words import usual_thicknesses


def piece(tmp_path, *sentences, **keys):
    return piece_from({**tables_from(sentences), **keys}, "a test", tmp_path)


def reading_of(tmp_path, *sentences, **keys):
    return read_piece(piece(tmp_path, *sentences, **keys))


# PROSPECT (prosail 2.0.5): structure, chlorophyll, carotenoids, brown, water, dry matter, anthocyanins, version.
# Reflectance and transmittance at 650, 550, 450 nm; the last is from its own run of version D and 5.
LEAVES = {
    "fresh": ((1.518, 58, 12, 0, 0.0131, 0.00366, 0, "5"), (0.03522, 0.08264, 0.0453), (0.01055, 0.08255, 0.00017)),
    "thick": ((2.2, 60, 12, 0, 0.02, 0.012, 0, "D"), (0.04491, 0.15264, 0.04122), (0.00414, 0.06023, 0.00006)),
    "pale": ((1.3, 15, 4, 0, 0.01, 0.005, 0, "D"), (0.0954, 0.24646, 0.04756), (0.13321, 0.31009, 0.02792)),
    "petal": ((2.0, 0, 0, 0, 0.01, 0.004, 0, "D"), (0.54269, 0.55092, 0.51985), (0.41824, 0.40872, 0.36864)),
}


@pytest.mark.parametrize("name", LEAVES)
def test_prospect_leaves(tmp_path, name):
    """A leaf read in green, light through and before black, gives both back; as a slab of 0.2 mm with n 1.4."""
    _, reflectances, transmittances = LEAVES[name]
    band = 1  # green: in red and blue of a green leaf next to nothing passes
    reflected, through = reflectances[band], transmittances[band]
    face = (0.4 / 2.4) ** 2
    less, over = -math.log2(through), math.log2((reflected - face) / 0.18)  # the mirrored light is not seen
    reading = reading_of(
        tmp_path, f"{less:.4f} stops less through 0.2 mm", f"{over:.4f} stops over the card at 0.2 mm",
        kind="leaf", n=1.4, g=0.0, thickness_error="0.001 mm",
    )  # fmt: skip
    words = lab(reading, 0.2e-3)
    assert -math.log2(words.transmittance[band]) == pytest.approx(less, abs=0.05)
    # A leaf's 45° brightness is its diffuse reflectance within the 10 % by which a slab's light is not quite even.
    assert words.reflectance[band] == pytest.approx(reflected, rel=0.12)
    assert reading.beliefs[0].misfit < reading.beliefs[0].allowed


def test_prospect_still_says_so():
    prosail = pytest.importorskip("prosail")
    for inputs, reflectances, transmittances in LEAVES.values():
        n, cab, car, brown, water, dry, ant, version = inputs
        _, r, t = prosail.run_prospect(n, cab, car, brown, water, dry, ant=float(ant), prospect_version=version)
        assert [r[nm - 400] for nm in (650, 550, 450)] == pytest.approx(reflectances, abs=1e-4)
        assert [t[nm - 400] for nm in (650, 550, 450)] == pytest.approx(transmittances, abs=1e-4)


def test_one_reading_of_a_leaf_holds_the_matter_that_two_spectra_gave(tmp_path):
    """The kit's leaf, fitted to reflectance and transmittance of PROSPECT-D in green, lies in one reading's range."""
    less = -math.log2(0.15025)
    belief = reading_of(tmp_path, f"{less:.3f} stops less through 0.2 mm", kind="leaf", n=1.4).beliefs[0]
    assert belief.scatter.low < 9123.9 < belief.scatter.high
    assert belief.absorb.low < 3084.28 < belief.absorb.high
    assert not belief.absorb.told


@pytest.mark.parametrize(
    ("stops", "share", "density"), [(1, 0.5, 0.30103), (2, 0.25, 0.60206), (10 / 3, 0.0992126, 1.00343)]
)
def test_stops_transmittance_and_density(tmp_path, stops, share, density):
    # D = −log10 T (ISO 5-2) and T = 2^−stops: a 0.3 filter takes a stop, 0.9 three.
    words = lab(reading_of(tmp_path, f"{stops:.6f} stops less through 3 mm", kind="clear", error="0.01 stop"), 3e-3)
    assert words.transmittance[1] == pytest.approx(share, rel=0.003)
    assert words.density[1] == pytest.approx(density, abs=0.002)
    assert pytest.approx(math.log10(2.0)) == STOP_IN_DENSITY


def test_a_clear_coloured_plate_keeps_to_beer_and_lambert_at_any_thickness(tmp_path):
    """Known at 2 mm, the stops at 6 mm follow: T = (1 − F)²·t³/(1 − F²·t⁶), n 1.5 (Born and Wolf, incoherent plate)."""
    t, face = 0.5, 0.04
    less = -math.log2((1.0 - face) ** 2 * t / (1.0 - (face * t) ** 2))
    thrice = -math.log2((1.0 - face) ** 2 * t**3 / (1.0 - (face * t**3) ** 2))
    keys = {"kind": "clear", "n": 1.5, "error": "0.02 stop", "thickness_error": "0.001 mm"}
    found = losses(reading_of(tmp_path, f"{less:.5f} stops less through 2 mm", **keys), [2e-3, 6e-3]).whole
    assert found[1, 0] == pytest.approx(thrice, abs=0.05)
    assert found[1, 1] < thrice < found[1, 2]
    assert lab(reading_of(tmp_path, "2 stops less through 2 mm", **keys), 2e-3).diffuse[0] == 0.0


def test_published_coefficients_pass_what_they_pass_elsewhere(tmp_path):
    # Whole milk, 3 mm: R, T along the normal .7566 .2315 | .7856 .1888 | .7465 .1262 (iadpython 0.5.3, 48 points).
    published = {
        "reduced_scattering": "2.55 3.21 3.77 1/mm", "absorption": "0.0011 0.0024 0.014 1/mm", "thickness": "3 mm",
    }  # fmt: skip
    reading = read_piece(piece_from({"published": published, "n": 1.3, "g": 0.0, "roughness": 0.0}, "a test", tmp_path))
    words = lab(reading, 3e-3)
    assert words.transmittance == pytest.approx([0.2315, 0.1888, 0.1262], abs=2e-4)
    assert words.reflectance == pytest.approx([0.7566, 0.7856, 0.7465], abs=2e-4)
    found = losses(reading, 3e-3)
    assert found.bands[:, 0, 0] == pytest.approx(-np.log2([0.2315, 0.1888, 0.1262]), abs=0.01)
    whole = 0.2126 * 0.2315 + 0.7152 * 0.1888 + 0.0722 * 0.1262  # ITU-R BT.709
    assert found.whole[0, 0] == pytest.approx(-math.log2(whole), abs=0.01)
    assert found.whole[0, 1] == pytest.approx(found.whole[0, 2], abs=1e-9)  # no spread was published
    assert 'status = "published"' in entry_text(reading)


def test_intervals_of_laboratory_words(tmp_path):
    """One reading fixes what passes and leaves open what is given back; rough faces spread all that passes."""
    words, (low, high) = (
        ask(reading_of(tmp_path, "5.3 stops less through 4 mm", kind="stone"), 4e-3) for ask in (lab, lab_ends)
    )
    assert low.transmittance[0] < words.transmittance[0] < high.transmittance[0] < 1.3 * low.transmittance[0]
    assert high.reflectance[0] > 5.0 * low.reflectance[0]
    assert words.diffuse[0] == words.transmittance[0]
    assert high.density[0] == pytest.approx(-math.log10(low.transmittance[0]), abs=1e-4)


def test_published_scattering_and_its_spread(tmp_path):
    # Narasimhan et al. 2006, regular milk in green: µs 20.3826, µa .0046 1/mm, g .714; µs′ = µs·(1 − g).
    published = {"scattering": "20.3826 1/mm", "absorption": "0.0046 1/mm", "spread": 0.1}
    reading = read_piece(
        piece_from({"published": published, "n": 1.33, "g": 0.714, "roughness": 0.0}, "a test", tmp_path)
    )
    assert reading.beliefs[0].best[0] == pytest.approx(20382.6 * (1.0 - 0.714))
    band = losses(reading, 5e-3).whole[0]
    assert band[1] < band[0] < band[2]


def test_the_band_is_narrow_where_it_was_read_and_wide_elsewhere(tmp_path):
    found = losses(reading_of(tmp_path, "5.3 stops less through 4 mm", kind="stone"), [1e-3, 4e-3, 16e-3]).whole
    width = found[:, 2] - found[:, 1]
    assert found[1, 0] == pytest.approx(5.3, abs=0.05)
    assert width[1] < 0.5
    assert width[0] > 2.0 * width[1]
    assert width[2] > 8.0 * width[1]


def test_it_answers_within_a_second_of_computing(tmp_path):
    """Processor time of a whole answer, solved slabs included: no wall clock, since others may use the machine."""
    from throughlight.swatch.slabs import slabs_of

    slabs_of.cache_clear()
    start = time.process_time()
    reading_of(tmp_path, "3.3 stops less through 4 mm", "5.4 stops less through 8 mm", kind="stone")
    assert time.process_time() - start < 1.0


def test_what_stays_open_is_said(tmp_path):
    said = " / ".join(open_points(reading_of(tmp_path, "5.3 stops less through 4 mm", kind="stone")))
    assert "one reading cannot tell scattering from absorption" in said
    assert "another thickness" in said
    assert "grey card" in said
    assert "colour" in said
    assert "index 1.56, asymmetry g 0.4 and roughness 0.15 were not measured" in said
    sentences = ["2.25 stops less through 4 mm", "3.78 stops less through 8 mm", "1.3 stops over the card at 8 mm"]
    told = " / ".join(open_points(reading_of(tmp_path, *sentences, kind="stone", n=1.5, g=0.0, roughness=0.0)))
    assert "cannot tell" not in told
    assert "index" not in told


def test_disagreement_and_a_strange_kind_are_said(tmp_path):
    apart = reading_of(tmp_path, "3 stops less through 3 mm", "9 stops less through 6 mm", kind="stone")
    assert "do not agree" in open_points(apart)[0]
    spread = losses(apart, [3e-3, 6e-3]).whole
    assert np.all(spread[:, 2] - spread[:, 1] > 1.0)  # each was read to 0.1 stop: widened until they agree
    thin = reading_of(tmp_path, "8 stops less through 0.2 mm", kind="flesh")
    assert any("unlike its kind" in one for one in open_points(thin))


def test_the_entry_is_a_kit_entry(tmp_path):
    reading = reading_of(tmp_path, "5.3 stops less through 4 mm", kind="stone", name='a "new" stone', good_for="a test")
    file = tmp_path / "kit.toml"
    assert not put_into_kit(file, reading.piece.name, entry_text(reading))
    entry = shelf_of(file, Kit())["materials"]['a "new" stone']
    assert entry.status == "own"
    assert "5.3 stops less through 4 mm" in entry.source
    assert "± 0.1 stop" in entry.source
    assert (entry.values["n"], entry.values["roughness"]) == (1.56, 0.15)
    assert tomllib.loads(entry_text(reading))["materials"]['a "new" stone']["good_for"] == "a test"


def test_a_new_reading_takes_the_place_of_the_old_one(tmp_path):
    file = tmp_path / "kit.toml"
    others = '# first\n[materials.wax]\nlike = "white wax"\n\n[cloths.felt]\nlike = "grey wool" # kept\n'
    file.write_text(others, "utf-8")
    for stops in ("5.3", "6.1"):
        reading = reading_of(tmp_path, f"{stops} stops less through 4 mm", kind="stone", name="slate")
        put_into_kit(file, "slate", entry_text(reading))
    text = file.read_text("utf-8")
    assert text.startswith(others)
    assert text.count("[materials.") == 2
    assert "5.3" not in text
    file.write_text(text + '\n# about the last\n[materials."last one"]\nlike = "jade"\n', "utf-8")
    assert put_into_kit(file, "slate", entry_text(reading))
    assert '# about the last\n[materials."last one"]' in file.read_text("utf-8")
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize("content", ["not toml [", '[materials.bad]\nlike = "nothing such"\n'])
def test_a_kit_file_that_cannot_be_used_is_left_alone(tmp_path, content):
    file = tmp_path / "kit.toml"
    file.write_text(content, "utf-8")
    reading = reading_of(tmp_path / "elsewhere", "5.3 stops less through 4 mm", kind="stone")
    with pytest.raises(SetupError, match=r"kit\.toml, line"):
        put_into_kit(file, "slate", entry_text(reading))
    assert file.read_text("utf-8") == content
    assert list(tmp_path.iterdir()) == [file]


def test_the_chart_is_drawn(tmp_path):
    reading = reading_of(tmp_path, "4.1 4.6 7.0 stops less through 4 mm", kind="stone", name="onyx")
    for name in ("chart.svg", "chart.png"):
        draw_chart(reading, tmp_path / name)
        assert (tmp_path / name).stat().st_size > 5000
    first = (tmp_path / "chart.svg").read_bytes()
    draw_chart(reading, tmp_path / "chart.svg")
    assert (tmp_path / "chart.svg").read_bytes() == first
    with pytest.raises(SetupError, match=r"\.svg or \.png"):
        draw_chart(reading, tmp_path / "chart.gif")


def test_json_says_the_same(tmp_path):
    reading = reading_of(tmp_path, "5.3 stops less through 4 mm", kind="stone")
    told = piece_json(reading, usual_thicknesses(reading), "entry")
    assert told["schema"] == "throughlight/swatch/1"
    assert told["bands"]["all"]["reduced_scattering"]["told_by_the_readings"] is False
    row = next(one for one in told["thickness_against_stops"] if one["thickness_mm"] == 4.0)
    assert row["stops_less"]["stops"] == pytest.approx(5.3, abs=0.05)
    assert told["laboratory"]["optical_density"][0] == pytest.approx(5.3 * 0.30103, abs=0.02)


def test_what_is_not_known_of_published_matter_makes_a_band(tmp_path):
    """Coefficients without a spread, index and roughness not said: the tables allow for those of any such matter."""
    published = {"reduced_scattering": "2 1/mm", "absorption": "0.01 1/mm"}
    known, open_ = (
        losses(read_piece(piece_from({"published": published, **keys}, "a test", tmp_path)), 5e-3).whole[0]
        for keys in ({"n": 1.45, "g": 0.45, "roughness": 0.2}, {})
    )
    assert known[1] == pytest.approx(known[2])
    assert 0.1 < open_[2] - open_[1] < 1.0
    assert open_[0] == pytest.approx(known[0])
