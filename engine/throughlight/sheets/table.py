"""The readings as a short table on the terminal, to be taken in at a glance."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from throughlight.readings.camera import camera_lines
from throughlight.readings.power import power_lines
from throughlight.readings.reading import BackdropReading, Readings, StrayReading, SubjectReading
from throughlight.sheets.numbers import amount, share, stops

Line = tuple[str, str, str]

STOPPED = {
    "tolerance": "subject's mean, backdrop, stray light and veil are as narrow as asked",
    "time": "stopped at the time limit before the tolerance was reached",
    "paths": "stopped at the most paths allowed before the tolerance was reached",
    "interrupted": "interrupted: these are the readings up to then",
}


def _subject(reading: SubjectReading | None) -> Iterator[Line]:
    if reading is None:
        yield "Subject", "not in the frame", ""
        return
    yield "Subject", stops(reading.mean), "stops over mid-grey, mean of what the camera sees"
    yield "  darkest 5 %", stops(reading.percentile_5), ""
    yield "  median", stops(reading.median), ""
    yield "  brightest 5 %", stops(reading.percentile_95), ""
    yield "  past clip", f"{share(reading.clipped[0])} ± {share(reading.clipped[1])}", "of the visible subject"
    if len(reading.by_head) > 1:
        for name, value in reading.by_head.items():
            yield f"  {name} alone", stops(value), ""


def _backdrop(reading: BackdropReading | None, stray: StrayReading) -> Iterator[Line]:
    if reading is None:
        yield "Backdrop", "not in the frame", ""
        return
    yield "Backdrop", stops(reading.mean), f"stops over mid-grey, 8-bit value {reading.code}"
    yield "  cloth", stops(reading.cloth), ""
    yield "  veil", stops(reading.veil), _veil_remark(stray) if reading.made_by_veil else ""
    if reading.under_subject is not None:
        yield "  under the subject", stops(reading.under_subject, sign=False), "stops"
    yield "  worst patch", stops(reading.worst.exposure), f"{reading.worst.place}, 8-bit value {reading.worst.code}"
    if reading.worst_under_subject is not None:
        yield "  … under the subject", stops(reading.worst_under_subject, sign=False), "stops"
    for route in () if reading.made_by_veil else reading.routes[:4]:
        yield "  cloth lit by", share(route.share), route.words


def _veil_remark(stray: StrayReading) -> str:
    most = stray.most_of_veil
    return "the veil makes the backdrop" + ("" if most is None else f"; {share(most[1])} of it from {most[0]}")


def _stray(reading: StrayReading) -> Iterator[Line]:
    low, high = reading.outside_interval
    span = f"{amount(low, '').strip()} … {amount(high, '').strip()}"
    yield "Stray light", amount(reading.outside, "lx·s"), f"on the front element from outside the frame ({span})"
    yield "  veil", stops(reading.veil), "stops over mid-grey, over the whole frame"
    for name, (part, _) in reading.seen.items():
        if part > 0.0:
            yield f"  {name}", share(part), "of its face sees the front element"
    for route in reading.routes[:4]:
        yield "  by", share(route.share), route.words


def _grid(lines: Iterator[Line]) -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(no_wrap=True, justify="right")
    grid.add_column(style="dim")
    for label, value, remark in lines:
        grid.add_row(Text(label, style="" if label.startswith(" ") else "bold"), Text(value), Text(remark))
    return grid


def _facts(readings: Readings) -> Iterator[Line]:
    if readings.ambient is not None:
        yield (
            "Without flash",
            "",
            "the same frame by room, windows and continuous lamps, stops over mid-grey",
        )
        yield "  subject", stops(readings.ambient.subject), ""
        yield "  backdrop", stops(readings.ambient.backdrop), ""
    for name, value in readings.spots.items():
        yield f"Spot “{name}”", stops(value), "stops over mid-grey"


def _words(readings: Readings) -> Table:
    """Return what is told in words, which need more room than figures."""
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(style="dim")
    finish = [("", note.words) for note in readings.finish]
    told = (("Camera", camera_lines(readings.camera)), ("Power", power_lines(readings.power)), ("Finish", finish))
    for heading, lines in told:
        if lines:
            remark = "done to the picture; the readings are without it" if heading == "Finish" else ""
            grid.add_row(Text(heading, style="bold"), Text(remark))
        for label, words in lines:
            grid.add_row(Text(f"  {label}"), Text(words))
    return grid


def _verdicts(readings: Readings) -> Iterator[Text]:
    for good, words in readings.verdicts:
        yield Text(("✓ " if good else "✗ ") + words, style="green" if good else "bold red")


def _making(readings: Readings) -> Iterator[Text]:
    made = readings.making
    yield Text(
        f"{made.paths:,} paths in {made.seconds:.1f} s, {made.replicates} replicates, seed {made.seed}; "
        f"± is the 95 % interval; {STOPPED[made.reason]}.",
        style="dim",
    )
    counted = ((made.cut, "cut for length"), (made.leaked, "lost in open bodies"), (made.invalid, "not a number"))
    for number, what in counted:
        if number:
            yield Text(f"Caution: {number:,} paths were {what}.", style="yellow")
    yield from (Text(f"Note: {warning}", style="yellow") for warning in readings.warnings)
    yield Text("Ghost images in the lens are not modelled.", style="dim")


def reading_lines(readings: Readings) -> Iterator[Line]:
    """Yield the readings that are figures: label (two spaces before what belongs to the line above), figure, remark."""
    yield from _subject(readings.subject)
    yield from _backdrop(readings.backdrop, readings.stray)
    yield from _stray(readings.stray)
    yield from _facts(readings)


def readings_table(readings: Readings) -> RenderableType:
    """Return everything that `meter` shows, for a rich console."""
    title = Text(readings.title, style="bold underline")
    return Group(title, _grid(reading_lines(readings)), _words(readings), *_verdicts(readings), *_making(readings))
