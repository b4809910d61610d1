"""How commands end when something unusual happens."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from plain_camera import CAMERA
from throughlight import cli

LARGEST_SEED = 2**63 - 1
SETUP = (
    CAMERA
    + """
[backdrop]
distance = "90 cm"
width = "140 cm"
height = "140 cm"
cloth = "grey paper"
[ambient]
illuminance = "100 lx"
"""
)


def test_the_largest_seed_serves_like_any_other(tmp_path: Path) -> None:
    file = tmp_path / "set.toml"
    file.write_text(SETUP, encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["meter", str(file), "--seed", str(LARGEST_SEED), "--tolerance", "1 stop"])
    assert told.exit_code == 0, told.exception
    assert f"seed {LARGEST_SEED}" in told.output


def test_ctrl_c_while_a_command_is_imported_exits_with_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(self: cli.LazyGroup, ctx: click.Context, cmd_name: str) -> click.Command | None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli.LazyGroup, "get_command", interrupted)
    told = CliRunner().invoke(cli.main, ["kit"])
    assert told.exit_code == 130
    assert "interrupted" in told.output


def test_the_package_itself_runs_as_the_command() -> None:
    command = [sys.executable, "-m", "throughlight", "--version"]
    told = subprocess.run(command, capture_output=True, text=True, check=True)
    assert told.stdout.startswith("throughlight, version ")


def test_shoot_says_that_its_time_limit_holds_twice() -> None:
    told = CliRunner().invoke(cli.main, ["shoot", "--help"]).output
    assert "for the readings and for the picture, each" in " ".join(told.split())
