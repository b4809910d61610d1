"""A study's table on terminals of several widths."""

from __future__ import annotations

import io

import pytest
from results_by_hand import exact, results, row, table_top
from rich.console import Console

from throughlight.sheets.study_table import study_table
from throughlight.study.said import amounts, brief_verdict, minus, verdict


def lines_of(found, width: int) -> list[str]:
    console = Console(file=io.StringIO(), width=width)
    console.print(study_table(found, 10))
    return console.file.getvalue().splitlines()


@pytest.mark.parametrize("width", [80, 100, 160])
def test_rows_are_whole_on_one_line(width):
    """Rank, number, what varies, loss with interval and verdict; readings as far as there is room."""
    found = table_top()
    lines = lines_of(found, width)
    assert max(len(line) for line in lines) <= width
    for one in found.ranked[:10]:
        (line,) = (line for line in lines if line.split()[1:2] == [str(one.number)] and line.split()[0].isdigit())
        assert amounts(one.loss) in line
        assert line.rstrip().endswith(verdict(one))
        assert all(minus(said) in line for said in one.changes.values())


def test_long_names_leave_the_verdict_whole():
    """Where a row has no room, the verdict is brief and what varies folds; the verdict and the figures do not."""
    found = table_top(keys=("bearing of the left head", "distance of the left head", "flag before the left head"))
    lines = lines_of(found, 80)
    assert max(len(line) for line in lines) <= 80
    for one in found.ranked[:10]:
        (line,) = (line for line in lines if line.split()[1:2] == [str(one.number)] and line.split()[0].isdigit())
        assert amounts(one.loss) in line
        assert line.rstrip().endswith(brief_verdict(one))


def test_wide_terminals_show_the_readings():
    found = table_top()
    text = "\n".join(lines_of(found, 160))
    assert amounts(found.ranked[0].figures["worst_under"]) in text
    assert "stray light, lx·s" in text


def test_running_state_and_failures_are_told():
    text = " ".join(" ".join(lines_of(table_top(running=True, waiting=9), 100)).split())
    assert "Running: 225 of 240 candidates read, 6 failed, 9 waiting" in text
    assert "expected to end at 06:30" in text
    assert "Failed, 6: the left head stands inside card 2." in text


def test_names_are_printed_as_text():
    """Markup of the terminal's library, escape codes and turned writing stay signs or go."""
    nasty = "[bold red]x[/] \x1b[31m \u202eturned"
    found = results([row(n, {nasty: nasty}, exact(float(n))) for n in (1, 2)])
    text = "\n".join(lines_of(found, 160))
    assert "[bold red]x[/]" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_nothing_read():
    assert any("0 of 240 candidates read" in line for line in lines_of(table_top(waiting=240, failed=0), 80))
