"""The command: its files, its JSON, its mistakes, and that it traces nothing."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from click.testing import CliRunner
from plan_sets import AGATE

from throughlight import cli

CODE = """
import sys
from throughlight.cli import main
try:
    main()
finally:
    print("numba" in sys.modules, file=sys.stderr)
"""


def test_the_command_writes_beside_and_traces_nothing(tmp_path: Path) -> None:
    run = [sys.executable, "-c", CODE, "plan", str(AGATE), "--feet", "--json"]
    told = subprocess.run(run, capture_output=True, text=True, cwd=tmp_path, check=True)
    assert told.stderr.split() == ["False"]
    plan = json.loads(told.stdout)
    assert plan["schema"] == "throughlight/plan/1"
    assert (plan["paper"], plan["scale_denominator"]) == ("letter", 24)
    assert [piece["kind"] for piece in plan["pieces"]][:3] == ["camera", "subject", "head"]
    written = {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*.*") if path.is_file()}
    assert written == set(plan["files"].values())


def test_a_mistake_is_one_sentence(tmp_path: Path) -> None:
    file = tmp_path / "set.toml"
    file.write_text('mark_height = "high"\n', encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["plan", str(file)])
    assert told.exit_code == 2
    assert "mark_height" in told.output
    (tmp_path / "taken").write_text("", encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["plan", str(AGATE), "--out", str(tmp_path / "taken" / "in")])
    assert told.exit_code == 2
    assert "Traceback" not in told.output
