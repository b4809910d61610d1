"""A match as a short table on the terminal: figures side by side, then what is off, what is ambiguous, what next."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from throughlight.match.align import Alignment
from throughlight.match.causes import Cause, Verdict, name_of, told
from throughlight.match.model import Model
from throughlight.match.run import Match
from throughlight.readings.intervals import Stops
from throughlight.sheets.numbers import share, stops

_MOST_CAUSES, _LEAST = 4, 0.02  # shown, and the share of what is off that one has to explain for that
_NEARLY = 0.98  # of what is off: a cause that explains more is hardly worse than the likeliest
_SEEN_SHIFT, _SEEN_TURN = 0.05, 0.05  # per cent, degrees: less is shown as none


def match_table(match: Match, *, together: bool = False) -> RenderableType:
    """Return everything that `match` shows, for a rich console; `together`: what a calibration says, too."""
    lines: list[RenderableType] = [
        Text(match.title, style="bold underline"),
        *_beforehand(match),
        _figures(match),
        *_remarks(match),
        *_causes(match),
    ]
    if together:
        lines += [*_written(match), _together(match)]
    return Group(*lines, *_afterwards(match))


def _beforehand(match: Match) -> Iterator[Text]:
    for words in match.taken.contradictions:
        yield Text(f"✗ {words[:1].upper()}{words[1:]}.", style="bold red")
    yield Text(f"Subject found {_placed(match.alignment)}.", style="dim")


def _placed(at: Alignment) -> str:
    """Return where the subject lies in the photo, in words."""
    right, up, turn = 100.0 * at.shift[0], -100.0 * at.shift[1], math.degrees(at.turn)
    moves = [
        f"{abs(size):.1f} % {way}"
        for size, way in ((right, "right" if right > 0.0 else "left"), (up, "above" if up > 0.0 else "below"))
        if abs(size) >= _SEEN_SHIFT
    ]
    place = f"{' and '.join(moves)} of its place (of the frame's longer side)" if moves else "at its place"
    turned = f"turned {abs(turn):.1f}° {'clockwise' if turn > 0.0 else 'anticlockwise'}"
    turned = turned if abs(turn) >= _SEEN_TURN else "not turned"
    return f"{place}, {at.scale:.3f} times as large, {turned if at.turn_known else 'too round to show a turn'}"


def _figures(match: Match) -> Table:
    grid = Table.grid(padding=(0, 2))
    for justify in ("left", "right", "right", "right"):
        grid.add_column(justify=justify)
    heads = ("stops over mid-grey", "predicted", "photographed", "difference")
    grid.add_row(*(Text(head, style="dim") for head in heads))
    for row in match.rows:
        cells = (stops(row.predicted), stops(row.photographed), "" if row.difference is None else _more(row.difference))
        grid.add_row(Text(row.name, style="bold"), *(Text(cell) for cell in cells))
    return grid


def _more(difference: Stops) -> str:
    """Return a difference; an open end is no exposure, so it is less or more and not darker or brighter."""
    return stops(difference).replace("darker than", "less than").replace("brighter than", "more than")


def _remarks(match: Match) -> Iterator[Text]:
    yield from (Text(f"{row.name}: {row.remark}", style="dim") for row in match.rows if row.remark)


def _causes(match: Match) -> Iterator[RenderableType]:
    verdict = match.verdict
    if verdict.agrees:
        yield Text("✓ Photo and prediction agree within their noise; nothing needs to be calibrated.", style="green")
        return
    if not verdict.causes:
        yield Text("No single change brings the prediction nearer to the photo.", style="yellow")
        return
    first, alike, rest = _split(verdict)
    if verdict.explained:
        yield Text(f"Likeliest cause: {first.words}, {first.told}; it explains {share(first.explains)} of what is off.",
                   style="bold")  # fmt: skip
    else:
        yield Text(
            f"No single change explains most of what is off; the one that explains most, {share(first.explains)}, is "
            f"{first.words}, {first.told}.",
            style="bold",
        )
    if alike:
        yield Text("As well as that, and not told apart from it by this frame:")
        yield _listed(alike, "")
    if rest:
        nearly = rest[0].explains > _NEARLY
        yield Text("Nearly as well, yet told apart from it:" if nearly else "Less well:", style="dim")
        yield _listed(rest, "dim")


def _split(verdict: Verdict) -> tuple[Cause, list[Cause], list[Cause]]:
    """Return the likeliest cause, those not told apart from it, and others worth a line."""
    first, *others = verdict.causes
    alike = [one for one in others[: verdict.alike] if one.explains > _LEAST]
    rest = [one for one in others[verdict.alike :] if one.explains > _LEAST]
    return first, alike, rest[: max(0, _MOST_CAUSES - 1 - len(alike))]


def _listed(causes: list[Cause], style: str) -> Table:
    """Return causes with the share that each explains."""
    grid = Table.grid(padding=(0, 2))
    grid.add_column(justify="right", no_wrap=True, min_width=7)
    for cause in causes:
        grid.add_row(Text(share(cause.explains), style=style), Text(f"{cause.words}, {cause.told}", style=style))
    return grid


def _written(match: Match) -> Iterator[RenderableType]:
    """Yield what the calibration file says, and what has to be put right on the set instead."""

    def told_of(places: list[int]) -> Iterator[tuple[str, str]]:
        return ((name_of(match.model, place), told(match.model, place, match.settled[place])) for place in places)

    flags = [place for place in match.settled if match.model.templates.changes[place].kind == "flag"]
    file = [place for place in match.settled if place not in flags]
    if file:
        yield Text("In the calibration file, the fewest changes that make the photo", style="bold")
        yield _changes(told_of(file))
    else:
        yield Text("The calibration file leaves the set as it is.", style="bold")
    if flags:
        yield Text("Not in the file, but to be put right on the set", style="bold")
        yield _changes(told_of(flags))


def _together(match: Match) -> RenderableType:
    """Return what each change would be with everything let loose."""

    def rows() -> Iterator[tuple[str, str]]:
        for place, change in match.changes.items():
            remark = "; left open" if place in match.verdict.unknown else ""
            yield name_of(match.model, place), f"{told(match.model, place, change)}{remark}"

    return Group(Text("How far each may be off with all let loose together", style="bold"), _changes(rows()))


def _changes(rows: Iterator[tuple[str, str]]) -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(max_width=40)
    grid.add_column()
    for name, words in rows:
        grid.add_row(Text(name), Text(words))
    return grid


def _afterwards(match: Match) -> Iterator[Text]:
    verdict = match.verdict
    if verdict.unknown:
        names = "; ".join(_left_open(match.model, place) for place in verdict.unknown)
        yield Text(f"This frame alone leaves open: {names}.", style="yellow")
    if verdict.second is not None:
        yield Text(_second_words(match), style="yellow")
    elif verdict.unknown or verdict.alike:
        yield Text("No second frame of the same set, heads one by one or no flash, would settle it.", style="yellow")
    if match.weights.kappa > 0.02:
        left = f"{100.0 * match.weights.kappa:.0f} %"
        yield Text(f"No change explains the last {left} of the light in a patch; intervals allow for it.", style="dim")
    yield from (Text(f"Note: {words}.", style="yellow") for words in match.notes)
    yield Text("Compared in luminance only; ± and brackets are 95 % intervals.", style="dim")


def _left_open(model: Model, place: int) -> str:
    if place < model.level and model.templates.changes[place].kind == "flag":
        return f"whether {model.templates.changes[place].of} is where the set has it"
    return name_of(model, place)


def _second_words(match: Match) -> str:
    verdict = match.verdict
    if verdict.second is None:
        return ""
    how = ", the other heads off and all else as it was" if verdict.second.frame.endswith(" alone") else ""
    idle = {one.words for one in verdict.causes if one.explains <= _LEAST}
    open_still = {name_of(match.model, place) for place in verdict.unknown}
    told_then = [one for one in verdict.second.settles if one in open_still or one not in idle]
    return f"A second frame would settle it: {verdict.second.frame}{how}. It would tell: {'; '.join(told_then)}."
