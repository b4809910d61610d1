"""The command's own part: what is refused before anything is read, the dry run, and a candidate taken."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from study_texts import HEAD, SET, vary, write

from throughlight.cli import main

POWER = vary("head.1.stops", 'values = ["-1 stop", "-2 stop", "+1 stop"]', "stops")
STUDY = HEAD + POWER + vary("flag.1.present", name="flag")


def study(*words: str | Path) -> Result:
    told = CliRunner().invoke(main, ["study", *map(str, words)])
    assert told.exception is None or isinstance(told.exception, SystemExit), told.exception
    return told


def test_a_dry_run_counts_and_says_why_some_fail(tmp_path: Path) -> None:
    told = study(write(tmp_path, STUDY), "--dry-run")
    assert told.exit_code == 0
    assert "stops: −1 stop, −2 stop, +1 stop" in told.output
    assert "6 candidates, 2 sets to trace; 2 more differ from one of them in power alone" in told.output
    assert "2 cannot be built:" in told.output
    assert "left head is asked for 1.0 stops more than it has (200 J of 100 J) (candidates 5, 6)" in told.output


def test_a_dry_run_as_json(tmp_path: Path) -> None:
    told = json.loads(study(write(tmp_path, STUDY), "--dry-run", "--json").stdout)
    assert told["schema"] == "throughlight/study-dry-run/1"
    assert (told["candidates"], told["sets_to_trace"]) == (6, 2)
    assert [(one["candidate"], one["changes"]) for one in told["failed"]] == [
        (5, {"stops": "+1 stop", "flag": "in"}),
        (6, {"stops": "+1 stop", "flag": "out"}),
    ]


def test_a_study_of_which_nothing_can_be_built_is_wrong_input(tmp_path: Path) -> None:
    told = study(write(tmp_path, HEAD + vary("head.1.stops", 'values = ["+1 stop"]')), "--dry-run")
    assert told.exit_code == 2
    assert "no candidate can be built" in told.output


def test_mistakes_end_in_sentences_and_2(tmp_path: Path) -> None:
    file = write(tmp_path, HEAD + vary("head.1.enrgy", 'values = ["1 J"]'), SET.replace("iso = 100\n", ""))
    told = study(file, "--dry-run")
    assert told.exit_code == 2
    first, second = told.output.splitlines()
    assert first.startswith(f"{file}, line 3: vary[1].key: ")
    assert second.startswith(f"{tmp_path / 'set.toml'}, line 4: camera.iso: ")


def test_a_candidate_is_taken(tmp_path: Path) -> None:
    told = study(write(tmp_path, STUDY), "--take", 2, tmp_path / "taken")
    assert told.exit_code == 0
    assert f"next: throughlight check {tmp_path / 'taken' / 'set-2.toml'}" in told.output
    checked = CliRunner().invoke(main, ["check", str(tmp_path / "taken" / "set-2.toml"), "--quiet"])
    assert checked.exit_code == 0
    assert study(tmp_path / "study.toml", "--take", 7, tmp_path / "taken").exit_code == 2
    (tmp_path / "file").write_text("", encoding="utf-8")
    told = study(tmp_path / "study.toml", "--take", 2, tmp_path / "file" / "inside")
    assert (told.exit_code, "another folder would fit" in told.output) == (2, True)


@pytest.mark.parametrize(
    "words",
    [
        ("--dry-run", "--take", "1", "x"),
        ("--dry-run", "--report"),
        ("--take", "1", "x", "--explain", "2"),
        ("--report", "--fresh"),
        ("--explain", "1", "--cluster", "a:1"),
        ("--until", "06:30", "--time-limit", "8 h"),
        ("--take", "0", "x"),
        ("--time-limit", "8"),
        (),
    ],
)
def test_what_doesn_t_go_together_is_refused(tmp_path: Path, words: tuple[str, ...]) -> None:
    told = study(*([write(tmp_path, STUDY)] if words else []), *words)
    assert told.exit_code == 2
    assert "Usage:" in told.output
    assert not (tmp_path / "x").exists()
