"""The table, the JSON and the dated record of the benchmarks are well formed; no timing is asserted."""

from __future__ import annotations

import datetime
import json
import re
import socket
from pathlib import Path

import pytest
from benchmarks.child import python
from benchmarks.found import QUICK, Found, Row, Series

from benchmarks import __main__ as command
from benchmarks import record, table

_FOUND = Found(
    (
        Row("P1", "subject", "µs", 5.2, 150.0, 28.8, (20.0, 60.0), note="a note"),
        Row("P3", "readings", "s", 2.6, goals=(2.5, 1.5), judged="ours", most=True),
        Row("P8", "study", "ms", goals=(20.0,), judged="ours", most=True),
        Row("start", "import", "s", 0.0512),
    ),
    (Series("heads", "time", "heads", "µs", ((1.0, 2.0), (2.0, 4.0))),),
    {"P1": {"parts": 1}},
)
_MOMENT = datetime.datetime(2031, 2, 3, 4, 5, tzinfo=datetime.UTC)


def test_table_tells_figures_goals_and_verdicts():
    text = table.text(_FOUND)
    lines = text.splitlines()
    assert lines[0].split() == ["target", "what", "ours", "peer", "ratio", "goal", "met"]
    assert lines[1].split() == [
        "P1",
        "subject",
        "5.20",
        "µs",
        "150",
        "µs",
        "28.8",
        "≥",
        "20.0,",
        "then",
        "60.0",
        "first",
        "met",
    ]
    assert lines[2].strip() == "a note"
    assert lines[3].split() == [
        "P3",
        "readings",
        "2.60",
        "s",
        "—",
        "—",
        "≤",
        "2.50",
        "s,",
        "then",
        "1.50",
        "s",
        "not",
        "met",
    ]
    assert lines[4].endswith("not measured")
    assert lines[5].split() == ["start", "import", "0.0512", "s", "—", "—"]
    assert "∝ heads^1.00" in text


def test_what_is_found_survives_json():
    told = json.loads(json.dumps(_FOUND.told()))
    assert told["rows"][0]["met"] == [True, False]
    assert told["rows"][2]["met"] is None
    assert told["series"][0]["exponent"] == pytest.approx(1.0)


def test_record_tells_the_machine_but_not_whose(tmp_path):
    run = record.told(_FOUND, QUICK, (0.1, 0.2), _MOMENT)
    file = record.keep(run, tmp_path)
    assert file.name == "2031-02-03.json"
    text = file.read_text(encoding="utf-8")
    kept = json.loads(text)
    assert kept["machine"]["cores"] >= 1
    assert {"python", "numpy", "numba", "throughlight"} <= set(kept["machine"]["versions"])
    assert kept["machine"]["processor"]
    for private in (socket.gethostname(), str(Path.home()), str(record.RECORDS.parent)):
        assert not re.search(rf"(?<!\w){re.escape(private)}(?!\w)", text)


def test_later_run_of_a_day_replaces_its_own_figures_alone(tmp_path):
    record.keep(record.told(_FOUND, QUICK, (0.1, 0.2), _MOMENT), tmp_path)
    later = Found((Row("P3", "readings", "s", 1.2, goals=(2.5, 1.5), judged="ours", most=True),))
    file = record.keep(record.told(later, QUICK, (0.1, 0.2), _MOMENT), tmp_path)
    kept = json.loads(file.read_text(encoding="utf-8"))
    assert {row["target"]: row["ours"] for row in kept["rows"]} == {"P1": 5.2, "P8": None, "start": 0.0512, "P3": 1.2}
    assert [series["name"] for series in kept["series"]] == ["heads"]


def test_command_prints_a_target_as_table_and_as_json(capsys):
    assert command.main(["--only", "p9", "--quick"]) == 0
    assert "P9" in capsys.readouterr().out
    assert command.main(["--only", "P9", "--quick", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [row["target"] for row in told["rows"]] == ["P9", "P9"]
    assert told["quick"] is True


def test_unknown_names_and_quick_records_are_refused(capsys):
    for given in (["--only", "P99"], ["--quick", "--record"]):
        with pytest.raises(SystemExit) as ended:
            command.main(given)
        assert ended.value.code == 2
    assert "P99" in capsys.readouterr().err


def test_measurement_that_fails_is_a_row_and_an_exit_code(monkeypatch, capsys):
    monkeypatch.setitem(command.MEASUREMENTS, "P8", "study.nothing")
    assert command.main(["--only", "P8"]) == 1
    assert "AttributeError" in capsys.readouterr().out


def test_every_measurement_names_a_function():
    import ast

    for where in command.MEASUREMENTS.values():
        module, function = where.split(".")
        source = (record.RECORDS.parent / f"{module}.py").read_text(encoding="utf-8")
        assert function in {node.name for node in ast.parse(source).body if isinstance(node, ast.FunctionDef)}, where


def test_child_tells_its_own_time_memory_and_words():
    """100 MB that a child fills are in its peak; what this process holds is not."""
    held = b"x" * 300_000_000
    ended = python("print(len(b'x' * 100_000_000))")
    assert ended.output.strip() == "100000000"
    assert 100 < ended.peak_mb < 200
    assert len(held) == 300_000_000
    with pytest.raises(RuntimeError, match="ended with 3"):
        python("raise SystemExit(3)")
