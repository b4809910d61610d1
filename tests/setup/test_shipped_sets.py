"""The sets that ship: they read without a doubt, editors accept them, and the script makes their shapes."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import trimesh

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


@pytest.mark.parametrize("path", SETS, ids=lambda path: path.parent.name)
def test_the_schema_accepts_a_shipped_set(path):
    jsonschema.validate(tomllib.loads(path.read_text("utf-8")), tls.schema())


def test_the_schema_refuses_what_the_reader_refuses():
    validator = jsonschema.Draft202012Validator(tls.schema())
    table = tomllib.loads(SETS[0].read_text("utf-8"))
    for spoiled in (
        {**table, "lamp": []},
        {**table, "camera": {key: value for key, value in table["camera"].items() if key != "body"}},
        {**table, "camera": {**table["camera"], "focal": 100}},
    ):
        assert not validator.is_valid(spoiled)


@pytest.mark.parametrize(("file", "maker"), [("agate/slice.ply", "agate"), ("leaf/leaf.ply", "leaf")])
def test_a_shipped_shape_is_what_the_script_makes(file, maker):
    spec = importlib.util.spec_from_file_location("make_assets", SCENES / "make_assets.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    made, kept = getattr(script, maker)(), trimesh.load(SCENES / file, process=False)
    assert kept.is_watertight
    np.testing.assert_array_equal(made.faces, kept.faces)
    np.testing.assert_allclose(made.vertices, kept.vertices, atol=1e-4)  # mm; the file holds single precision
