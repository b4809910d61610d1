"""The sets that ship: they read without a doubt, editors accept them, and the script makes their shapes and picture."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import trimesh
from PIL import Image

import throughlight.setup as tls

SCENES = Path(__file__).parents[2] / "scenes"
SETS = sorted(SCENES.glob("*/set.toml"))
SHIPPED = {"agate", "bowl", "honey", "leaf", "picture-leaf", "scrim-soap", "soap", "stopper"}


def test_eight_sets_ship():
    assert {path.parent.name for path in SETS} == SHIPPED


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.parent.name)
def test_a_shipped_set_reads_without_a_doubt(path):
    setup = tls.load(path)
    assert tls.setup_warnings(setup) == []
    assert setup.wanted.subject is not None


@pytest.fixture(scope="module")
def validator():
    jsonschema.Draft202012Validator.check_schema(tls.schema())
    return jsonschema.Draft202012Validator(tls.schema())


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.parent.name)
def test_the_schema_accepts_a_shipped_set(validator, path):
    validator.validate(tomllib.loads(path.read_text("utf-8")))


def test_the_schema_refuses_what_the_reader_refuses(validator):
    table = tomllib.loads(SETS[0].read_text("utf-8"))
    for spoiled in (
        {**table, "lamp": []},
        {**table, "camera": {key: value for key, value in table["camera"].items() if key != "body"}},
        {**table, "camera": {**table["camera"], "focal": 100}},
    ):
        assert not validator.is_valid(spoiled)


def script_named(name):
    spec = importlib.util.spec_from_file_location(name, SCENES / f"{name}.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    return script


@pytest.mark.parametrize(("file", "maker"), [("agate/slice.ply", "agate"), ("leaf/leaf.ply", "leaf")])
def test_a_shipped_shape_is_what_the_script_makes(file, maker):
    made, kept = getattr(script_named("make_assets"), maker)(), trimesh.load(SCENES / file, process=False)
    assert kept.is_watertight
    np.testing.assert_array_equal(made.faces, kept.faces)
    np.testing.assert_allclose(made.vertices, kept.vertices, atol=1e-4)  # mm; the file holds single precision


def test_the_shipped_picture_is_what_the_script_draws():
    file = SCENES / "picture-leaf" / "light-table.png"
    assert file.stat().st_size < 400_000
    made, kept = script_named("draw_leaf").light_table().astype(int), np.asarray(Image.open(file)).astype(int)
    assert made.shape == kept.shape
    assert np.abs(made - kept).max() <= 1  # rounding of libraries' sines


def test_the_leafs_map_lies_as_its_outline_does():
    """The outline is as wide as the thing in the picture, the map as the whole picture, both in the same scale."""
    leaf = tls.load(SCENES / "picture-leaf" / "set.toml").subject
    thing = np.asarray(Image.open(SCENES / "picture-leaf" / "light-table.png")).min(axis=2) < 204
    across, down = np.flatnonzero(thing.any(axis=0)), np.flatnonzero(thing.any(axis=1))
    share = (across[-1] - across[0] + 1) / thing.shape[1]
    assert leaf.shape.outline.width / leaf.material.map.width == pytest.approx(share, rel=0.002)
    assert across[0] + across[-1] == pytest.approx(thing.shape[1] - 1, abs=2)
    assert down[0] + down[-1] == pytest.approx(thing.shape[0] - 1, abs=2)
