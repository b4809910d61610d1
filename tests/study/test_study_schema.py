"""The JSON Schema of study files takes what the reader takes, and refuses what an editor should underline."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner
from small_studies import STUDY

from throughlight.cli import main
from throughlight.study.tables import schema

AGATE = Path(__file__).parents[2] / "scenes" / "agate" / "study.toml"
SHIPPED = AGATE.read_text(encoding="utf-8")
LISTED = (
    STUDY.split("values =")[0] + '[[candidate]]\nbearing = "40 deg"\n[budget]\nuntil = "06:30"\ntime_limit = "8 h"\n'
)


@pytest.mark.parametrize("text", [STUDY, LISTED, SHIPPED], ids=["grid", "listed", "shipped"])
def test_takes_what_the_reader_takes(text):
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(tomllib.loads(text), schema())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('set = "set.toml"', ""),
        ('key = "head.key.at.bearing"', ""),
        ('key = "head.key.at.bearing"', 'key = "head.key.at.bearing"\nkeys = ["camera.iso"]'),
        ('at = "-0.5 stop"', 'at = "-0.5 stop"\nat_most = "0 stop"'),
        ('name = "flag"', 'nam = "flag"'),
        ("weight = 0.5", "weight = [1]"),
    ],
)
def test_refuses_what_the_reader_refuses(old, new):
    assert old in STUDY
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(STUDY.replace(old, new, 1)), schema())


def test_printed_by_the_command():
    told = CliRunner().invoke(main, ["study", "--schema"])
    assert json.loads(told.output) == schema()
    missing = CliRunner().invoke(main, ["study"])
    assert missing.exit_code == 2
    assert "a study file is needed, or --schema" in missing.output
