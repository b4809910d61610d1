"""A study on the terminal: how far it is, the ranked table with intervals and verdicts, what failed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from throughlight.darkroom.names import seen, short
from throughlight.study.results import Results, Row, reading_of
from throughlight.study.said import UNCHANGED, amounts, brief_verdict, minus, said, status, verdict

_LONGEST = 32  # characters of a name that a table has room for
_NO_LIMIT = 1000  # columns, for measuring


def study_table(results: Results, most: int = 20) -> RenderableType:
    """Return what `study --report` shows, for a rich console: the best `most` candidates."""
    title = Text(seen(results.title), style="bold underline")
    ranking = _Ranking(results, most)
    return Group(title, *_standing(results), ranking, *_rest(results, most), *_failures(results))


def _standing(results: Results) -> Iterator[Text]:
    state = "Running" if results.made.running else "Not running"
    ends = f"; expected to end at {results.made.ends}" if results.made.running and results.made.ends else ""
    yield Text(f"{state}: {status(results)}{ends}.")
    best = results.best
    if best is not None:
        yield Text(f"Best so far: No. {best.number} ({seen(minus(said(best)), 200)}), loss {amounts(best.loss)} stops.")


def shown_readings(results: Results) -> tuple[str, ...]:
    """Return the readings worth a column: those that are wanted, the stray light, and the energy where it varies."""
    wanted = [goal.reading for goal in results.goals]
    energies = {row.energy_joules for row in results.ranked}
    more = ["stray_light", *(["energy"] if len(energies) > 1 else [])]
    return tuple(name for name in dict.fromkeys([*wanted, *more]) if name in results.readings)


class _Ranking:
    """The table, with as many readings beside the loss as the terminal has room for."""

    def __init__(self, results: Results, most: int) -> None:
        self.results, self.most = results, most

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Give the widest table that fits; the narrowest one where none does."""
        names = shown_readings(self.results)
        tries = [*((names[:count], verdict) for count in range(len(names), -1, -1)), ((), brief_verdict)]
        for shown, place in tries:
            table = _table(self.results, self.most, shown, place)
            if Measurement.get(console, options.update(max_width=_NO_LIMIT), table).maximum <= options.max_width:
                break
        yield table


def _table(results: Results, most: int, names: tuple[str, ...], place_of: Callable[[Row], str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("rank", justify="right", no_wrap=True)
    table.add_column("No.", justify="right", no_wrap=True)
    for key in results.keys:
        table.add_column(Text(short(key, _LONGEST)), overflow="fold")
    table.add_column("loss, stops", no_wrap=True)
    readings = [reading_of(name) for name in names]
    for reading in readings:
        unit = "" if reading.unit in ("stops", "stops over mid-grey") else f", {reading.unit}"
        table.add_column(Text(f"{short(reading.short, _LONGEST)}{unit}"), overflow="fold")
    table.add_column("place", no_wrap=True)
    for place, row in enumerate(results.ranked[:most], 1):
        figures = [Text(amounts(row.figure(reading.name), reading.unit)) for reading in readings]
        table.add_row(
            str(place),
            str(row.number),
            *_changes(results, row),
            amounts(row.loss),
            *figures,
            Text(place_of(row), style="green" if row.settled else ""),
        )
    return table


def _changes(results: Results, row: Row) -> list[Text]:
    return [Text(short(minus(row.changes.get(key, UNCHANGED)), _LONGEST)) for key in results.keys]


def _rest(results: Results, most: int) -> Iterator[Text]:
    if len(results.ranked) > most:
        yield Text(f"… and {len(results.ranked) - most} more.", style="dim")
    if results.ranked:
        yield Text(
            "Loss is what is missed of the goals, in stops times their weight; ± is the 95 % interval.", style="dim"
        )


def _failures(results: Results) -> Iterator[Text]:
    for reason, count in Counter(row.reason for row in results.failed).most_common():
        yield Text(f"Failed, {count}: {seen(reason, 300)}.", style="yellow")
