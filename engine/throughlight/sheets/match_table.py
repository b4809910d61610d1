"""A match as a short table on the terminal: figures side by side, then what is off, what is ambiguous, what next."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from throughlight.match.causes import Second, name_of, told
from throughlight.match.run import Match
from throughlight.sheets.numbers import share, signed, stops

_MOST_CAUSES = 4


def match_table(match: Match, *, together: bool = False) -> RenderableType:
    """Return everything that `match` shows, for a rich console; `together`: all changes of a calibration too."""
    lines: list[RenderableType] = [
        Text(match.title, style="bold underline"),
        *_beforehand(match),
        _figures(match),
        *_remarks(match),
    ]
    lines += _causes(match)
    if together:
        lines.append(_together(match))
    return Group(*lines, *_afterwards(match))


def _beforehand(match: Match) -> Iterator[Text]:
    for words in match.taken.contradictions:
        yield Text(f"✗ {words[:1].upper()}{words[1:]}.", style="bold red")
    at = match.alignment
    turn = f"turned by {signed(math.degrees(at.turn), 1)}°" if at.turn_known else "round, so its turn is not seen"
    place = f"{signed(100.0 * at.shift[0], 1)} % to the right and {signed(-100.0 * at.shift[1], 1)} % up"
    yield Text(f"Subject found {place} of its place, {at.scale:.3f} times as large, {turn}.", style="dim")


def _figures(match: Match) -> Table:
    grid = Table.grid(padding=(0, 2))
    for justify in ("left", "right", "right", "right"):
        grid.add_column(no_wrap=True, justify=justify)
    heads = ("over mid-grey", "predicted", "photographed", "difference, stops")
    grid.add_row(*(Text(head, style="dim") for head in heads))
    for row in match.rows:
        cells = (stops(row.predicted), stops(row.photographed), "" if row.difference is None else stops(row.difference))
        grid.add_row(Text(row.name, style="bold"), *(Text(cell) for cell in cells))
    return grid


def _remarks(match: Match) -> Iterator[Text]:
    yield from (Text(f"{row.name}: {row.remark}", style="dim") for row in match.rows if row.remark)


def _causes(match: Match) -> Iterator[RenderableType]:
    verdict = match.verdict
    if verdict.agrees:
        yield Text("✓ Photo and prediction agree within their noise; nothing needs to be calibrated.", style="green")
        return
    first = verdict.causes[0] if verdict.causes else None
    if first is None:
        yield Text("No single change brings the prediction nearer to the photo.", style="yellow")
        return
    if verdict.explained:
        yield Text(f"Likeliest cause: {first.words}, {first.told}; explains {share(first.explains)} of what is off.",
                   style="bold")  # fmt: skip
    else:
        yield Text(
            f"No single change explains most of what is off; the one that explains most, {share(first.explains)}, is "
            f"{first.words}, {first.told}.",
            style="bold",
        )
    for number, cause in enumerate(verdict.causes[1 : max(_MOST_CAUSES, verdict.alike + 1)], 1):
        mark = "  or, not told apart from it:" if number <= verdict.alike else "  less well:"
        yield Text(f"{mark} {cause.words}, {cause.told}; {share(cause.explains)}", style="" if number <= verdict.alike
                   else "dim")  # fmt: skip


def _together(match: Match) -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_row(Text("All changes let loose together", style="bold"), "")
    for place, change in match.changes.items():
        remark = "; not fixed by this frame" if place in match.verdict.unknown else ""
        mark = "✎ " if place in match.settled else "  "
        words = f"{told(match.model, place, change)}{remark}"
        grid.add_row(Text(f"{mark}{name_of(match.model, place)}"), Text(words))
    return grid


def _afterwards(match: Match) -> Iterator[Text]:
    verdict = match.verdict
    if verdict.unknown:
        names = "; ".join(name_of(match.model, place) for place in verdict.unknown)
        yield Text(f"This frame alone does not fix: {names}.", style="yellow")
    if verdict.second is not None:
        yield Text(_second_words(verdict.second), style="yellow")
    elif verdict.unknown or verdict.alike:
        yield Text("No second frame of the same set, heads one by one or no flash, would settle it.", style="yellow")
    if match.weights.kappa > 0.02:
        left = f"{100.0 * match.weights.kappa:.0f} %"
        yield Text(f"No change explains the last {left} of the light in a patch; intervals allow for it.", style="dim")
    yield from (Text(f"Note: {words}.", style="yellow") for words in match.notes)
    yield Text("Compared in luminance only; ± and brackets are 95 % intervals.", style="dim")


def _second_words(second: Second) -> str:
    return f"A second frame would settle it: {second.frame}. It tells {'; '.join(second.settles)}."
