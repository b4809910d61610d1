"""A new piece on the terminal: its matter with intervals, stops by thickness, laboratory words, what stays open."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from throughlight.readings.figures import significant
from throughlight.readings.open_points import open_points
from throughlight.readings.piece import BANDS, PieceReading
from throughlight.readings.thickness import lab, lab_ends, losses
from throughlight.setup.shown import APERTURES
from throughlight.sheets.numbers import signed, stops
from throughlight.swatch.belief import Span

if TYPE_CHECKING:
    from throughlight.readings.exposed import Exposed

_PER_MM = 1e-3
_SURE = 0.02  # stops
_WITH_A_SET = "--set SETUP tells what power or aperture exposes it there, and at which thickness the light runs out."
_STEPS = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0)


def millimetres(length: float) -> str:
    """Return a thickness in m in millimetres, or in centimetres from 10 cm on."""
    return f"{significant(1e3 * length, 3)} mm" if length < 0.1 else f"{significant(1e2 * length, 3)} cm"


def usual_thicknesses(reading: PieceReading) -> list[float]:
    """Return round thicknesses about those that were read, m, the read ones among them."""
    top = reading.thickness
    read = {one.thickness for one in reading.measured[0]}
    steps = {float(f"{top * step:.3g}") for step in _STEPS}
    return sorted({*(one for one in steps if all(abs(one / r - 1.0) > 0.05 for r in read)), *read})


def span_words(span: Span) -> str:
    """Return a coefficient with its interval, 1/mm."""
    middle, low, high = (significant(one * _PER_MM, 3) for one in span[:3])
    return middle if span.low == span.high else f"{middle} ({low} … {high})"


def band_words(values: Sequence[float]) -> str:
    """Return stops less with the 95 % band: middle, low, high."""
    middle, low, high = values
    if not math.isfinite(middle) or middle > 40.0:
        return "more than 40"
    if high - low < 0.005:
        return f"{middle:.2f}"
    return f"{middle:.1f} ({low:.1f} … {high:.1f})" if high - low > 0.6 else f"{middle:.2f} ({low:.2f} … {high:.2f})"


def _ends(values: Sequence[float]) -> str:
    """Return the 95 % band alone, which leaves room for three of them beside one another."""
    low, high = (f"{one:.1f}" if one < 40.0 else "40+" for one in values[1:])
    return low if low == high else f"{low} … {high}"


def piece_table(reading: PieceReading, thicknesses: Sequence[float], shown: Exposed | None) -> RenderableType:
    """Return everything that `swatch` shows, for a rich console."""
    head = Text(reading.piece.name, style="bold underline")
    kind = Text(f"taken as {reading.piece.kind.title}", style="dim")
    if reading.piece.published is not None:
        kind = Text("from published coefficients", style="dim")
    parts: list[RenderableType] = [head, kind, _matter(reading), Text(), _by_thickness(reading, thicknesses), Text()]
    parts += [_laboratory(reading), Text()]
    if shown is not None:
        parts += [*(Text(line, style=style) for line, style in exposed_lines(shown)), Text()]
    else:
        parts += [Text(_WITH_A_SET, style="dim"), Text()]
    parts += [Text(f"! {point[:1].upper()}{point[1:]}.", style="yellow") for point in open_points(reading)]
    parts.append(Text("Brackets are 95 % intervals.", style="dim"))
    return Group(*parts)


def _names(reading: PieceReading) -> tuple[str, ...]:
    return ("all bands",) if reading.neutral else BANDS


def _matter(reading: PieceReading) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for name in ("", "scattering µs′, 1/mm", "absorption µa, 1/mm"):
        table.add_column(name, no_wrap=True)
    table.add_column("")
    for name, belief in zip(_names(reading), reading.beliefs, strict=True):
        clear = reading.piece.kind.scatter is None and reading.piece.published is None
        table.add_row(
            name,
            "none (taken as clear)" if clear else span_words(belief.scatter),
            span_words(belief.absorb),
            Text(_told_words(reading, belief.scatter.told or clear, belief.absorb.told), style="dim"),
        )
    return table


def _told_words(reading: PieceReading, scatter: bool, absorb: bool) -> str:
    if reading.piece.published is not None:
        return "as published"
    if scatter and absorb:
        return "both told"
    if not scatter and not absorb:
        return "ranges: see below"
    return f"{'absorption' if scatter else 'scattering'} a range"


def _by_thickness(reading: PieceReading, thicknesses: Sequence[float]) -> Table:
    found = losses(reading, thicknesses)
    table = Table(box=None, padding=(0, 2, 0, 0), title="Thickness against stops", title_justify="left")
    table.add_column("thickness", justify="right", no_wrap=True)
    table.add_column("stops less", no_wrap=True)
    for name in ("",) if reading.neutral else (*BANDS, ""):
        table.add_column(name, no_wrap=True)
    read = {one.thickness for one in reading.measured[0] if one.look != "card"}
    for i, thickness in enumerate(found.thickness):
        bands = [] if reading.neutral else [_ends(one) for one in found.bands[:, i]]
        mark = Text("read" if float(thickness) in read else "", style="dim")
        table.add_row(millimetres(float(thickness)), band_words(found.whole[i]), *bands, mark)
    return table


def _laboratory(reading: PieceReading) -> Table:
    thickness = reading.thickness
    words, (low, high) = lab(reading, thickness), lab_ends(reading, thickness)
    title = f"Laboratory words, {millimetres(thickness)}"
    table = Table(box=None, padding=(0, 2, 0, 0), title=title, title_justify="left")
    table.add_column("")
    for name in _names(reading):
        table.add_column(name, justify="right", no_wrap=True)
    rows = (
        ("total transmittance, %", "transmittance", _percent),
        ("diffuse transmittance, %", "diffuse", _percent),
        ("total reflectance, %", "reflectance", _percent),
        ("optical density", "density", lambda value: f"{value:.2f}"),
        ("µs, 1/mm", "scattering", lambda value: significant(value * _PER_MM, 3)),
    )
    for title, name, said in rows:
        whole = [getattr(one, name) for one in (words, low, high)]
        table.add_row(title, *(_within(*(said(one[i]) for one in whole)) for i in range(len(reading.beliefs))))
    return table


def _within(middle: str, low: str, high: str) -> str:
    return middle if low == high else f"{middle} ({low} … {high})"


def _percent(value: float) -> str:
    """Return a share in percent to three significant digits."""
    return "0" if value <= 0.0 else "< 0.001" if value < 1e-5 else significant(100.0 * value, 3)


def marked(f_number: float) -> str:
    """Return an aperture, and the nearest engraved third of a stop where that is another number."""
    exact, third = f"f/{significant(f_number, 3)}", round(6.0 * math.log2(f_number))
    mark = f"f/{APERTURES[third]:g}" if 0 <= third < len(APERTURES) else "none on a lens"
    return exact if exact == mark else f"{exact} (nearest mark: {mark})"


def exposed_lines(shown: Exposed) -> Iterator[tuple[str, str]]:
    """Return what a set does with the piece, line by line, with a style."""
    low, high = shown.matter
    yield f"In the set, “{shown.subject}”", "bold"
    yield f"  as the set stands: {stops(shown.traced)} stops over mid-grey, traced", ""
    if high - low > _SURE:
        yield f"  what is not known of its matter moves that by {signed(low, 2)} to {signed(high, 2)} stop", ""
    yield f"  wanted: {'mid-grey' if shown.wanted == 0.0 else f'{signed(shown.wanted)} over mid-grey'}", ""
    if shown.change == 0.0 and shown.short == 0.0:
        yield "  no head has to be turned, or none lights it", ""
    for turn in shown.turns if shown.change != 0.0 else ():
        power = "" if turn.power is None else f", {significant(turn.power, 3)} {turn.unit}"
        yield f"  {turn.name}: from {signed(turn.now)} to {signed(turn.then)} stops{power}", ""
    if shown.short > 0.0 and math.isfinite(shown.short):
        words = f"that is all they have, {shown.short:.1f} stops too little; with it {marked(shown.f_number)}"
        yield f"  {words} would expose it as wanted", "bold red"
    elif math.isfinite(shown.f_number):
        yield f"  or the aperture alone: {marked(shown.f_number)}", ""
    if shown.change != 0.0 or shown.short > 0.0:
        low, high = shown.advice
        yield f"  the advice may be off by {signed(low, 2)} to {signed(high, 2)} stop, tracer and matter together", ""
    if shown.confirmed is not None:
        yield f"  traced again with the heads so turned: {stops(shown.confirmed)} stops over mid-grey", ""
    yield from ((f"  {complaint}", "bold red") for complaint in shown.complaints)
    if shown.runs_out is None:
        yield f"  at which thickness the light runs out is not told: {shown.why_not}", "dim"
    else:
        middle, thin, thick = (millimetres(one) for one in shown.runs_out)
        traced = "" if shown.ended is None or shown.sideways else f"; traced there: {stops(shown.ended)}"
        wide = ", in a slice much wider than it is thick" if shown.sideways else ""
        yield f"  the light runs out at {middle} ({thin} … {thick}), all heads at full{wide}{traced}", ""
        if shown.sideways:
            words = f"this one, so thick, still gets {stops(shown.ended)} stops over mid-grey"
            yield f"  {words}: light enters through its sides", ""
