"""What the command shows of a study: words, files, JSON, and sentences where it can't."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import pytest
from results_by_hand import table_top

from throughlight.cli import study_results
from throughlight.cli.study import Screen, Shown
from throughlight.sheets import study_report
from throughlight.study import space

LOUD, QUIET, JSON = Screen(False, False), Screen(False, True), Screen(True, False)


@pytest.fixture(autouse=True)
def found(tmp_path, monkeypatch):
    """A study whose results are made by hand, and no picture."""
    study = SimpleNamespace(path=tmp_path / "night.toml")
    made = table_top(waiting=4, running=True)
    monkeypatch.setattr(study_results, "_known", lambda _: (study, made))
    monkeypatch.setattr(space, "candidates", lambda _: ())
    monkeypatch.setattr(study_report, "pictures_of_best", lambda *_, **__: {})
    return made


def test_report_stands_beside_the_study_under_its_name(tmp_path, capsys):
    study_results.show_results(tmp_path / "night.toml", Shown(True, None, None), LOUD)
    said = capsys.readouterr().out
    for name in ("report.html", "ranking.csv", "results.json"):
        assert (tmp_path / "night.report" / name).stat().st_size > 1000
    assert "Running: 230 of 240" in " ".join(said.split())
    assert "report.html" in said


def test_explain_prints_sentences_only(tmp_path, capsys, found):
    study_results.show_results(tmp_path / "night.toml", Shown(False, found.ranked[3].number, None), LOUD)
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith(f"No. {found.ranked[3].number} ")
    assert "4th of 230" in lines[0]


def test_a_number_that_is_none_is_refused_in_a_sentence(tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        study_results.show_results(tmp_path / "night.toml", Shown(False, 999, None), LOUD)
    assert ended.value.code == 2
    assert capsys.readouterr().err == "found candidate 999; a number from 1 to 240 would fit\n"


def test_csv_where_it_is_asked_for(tmp_path, capsys):
    path = tmp_path / "table.csv"
    study_results.show_results(tmp_path / "night.toml", Shown(False, None, path), QUIET)
    assert path.read_text().startswith("rank,number,status")
    assert str(path) in capsys.readouterr().out


def test_csv_that_cannot_be_written_is_refused_in_a_sentence(tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        study_results.show_results(tmp_path / "night.toml", Shown(False, None, tmp_path / "none" / "table.csv"), LOUD)
    assert ended.value.code == 2
    assert "table.csv" in capsys.readouterr().err


def test_json_is_all_that_is_printed(tmp_path, capsys, found):
    shown = Shown(True, found.ranked[0].number, tmp_path / "table.csv")
    study_results.show_results(tmp_path / "night.toml", shown, JSON)
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "throughlight/study/1"
    assert told["explained"][0].startswith("No. ")
    assert all(Path(path).is_file() for path in told["files"].values())
