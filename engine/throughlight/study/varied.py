"""What varies in a study: names for keys of the set that go together, and the values they take, level after level.

A level is one value of one varied thing: how a person reads it, its number in SI where it is one, and what it changes
in the set's tables. A range without steps has a level at every share u of the way from one end to the other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from throughlight.setup.amounts import Amount, amount_of
from throughlight.setup.kind import found
from throughlight.study.keys import OUT, Edit, Place, value_at
from throughlight.study.tables import MOST_VALUES, VaryTable

Inside = tuple[str | int, ...]
"""A path inside one [[vary]] table."""

_FINENESS = 1000.0
"""A value from a range without steps is rounded to a power of ten no coarser than this part of the range."""
_SHOWN = 60


class Level(NamedTuple):
    """One value of a varied thing; `value` is its number in SI, or None."""

    said: str
    value: float | None
    edits: tuple[Edit, ...]


class Span(NamedTuple):
    """One key's range: its two ends."""

    first: Amount
    last: Amount

    def value(self, number: float) -> Any:  # noqa: ANN401 - a text or a number, as the ends are written
        """Return the TOML value for a number in the range's own unit."""
        written = self.first.written(number)
        return int(written) if isinstance(written, float) and written.is_integer() else written

    def at(self, share: float) -> Any:  # noqa: ANN401
        """Return the TOML value at a share of the way, rounded to what can be set up by tape measure."""
        width = self.last.number - self.first.number
        digits = -math.floor(math.log10(abs(width) / _FINENESS))
        return self.value(round(self.first.number + share * width, digits))


class MisvariedError(ValueError):
    """What is wrong in a [[vary]] table: where inside it, and the sentence."""

    def __init__(self, inside: Inside, words: str) -> None:
        self.inside = inside
        super().__init__(words)


@dataclass(frozen=True)
class Varied:
    """One varied thing.

    Attributes
    ----------
    name
        What the report calls it.
    places
        The keys that go together.
    levels
        Its values, in the order of the file; empty for a range without steps.
    spans
        The range of each key; empty where there is none.
    """

    name: str
    places: tuple[Place, ...]
    levels: tuple[Level, ...] = ()
    spans: tuple[Span, ...] = ()

    @property
    def is_continuous(self) -> bool:
        """Return whether it is a range without steps."""
        return not self.levels and bool(self.spans)

    def at(self, share: float) -> Level:
        """Return the level at a share, 0 to 1 (excluded), of the range, or of the list of levels."""
        if self.levels:
            return self.levels[min(int(share * len(self.levels)), len(self.levels) - 1)]
        return level_of(self.places, [span.at(share) for span in self.spans])


def varied_of(name: str, table: VaryTable, places: tuple[Place, ...]) -> Varied:
    """Return what a [[vary]] table describes.

    Raises
    ------
    MisvariedError
        When its values cannot be taken.
    """
    if table.values is not None:
        if not table.values:
            raise MisvariedError(("values",), "the list is empty; values, each once, would fit")
        several = table.keys is not None
        levels = tuple(
            level_of(places, _one_each(value, places, several, ("values", i))) for i, value in enumerate(table.values)
        )
        return Varied(name, places, levels)
    if table.from_ is not None and table.to is not None:
        return _ranged(name, table, places)
    if places and all(place.is_presence for place in places):
        return Varied(name, places, tuple(level_of(places, [there] * len(places)) for there in (True, False)))
    return Varied(name, places)


def level_of(places: Sequence[Place], values: Sequence[Any]) -> Level:
    """Return the level at which each key has its value; "in", "out", true and false say whether a thing is there."""
    edits: list[Edit] = []
    said: list[str] = []
    for place, value in zip(places, values, strict=True):
        if place.is_presence:
            said.append("in" if value in (True, "in") else "out")
            edits += [] if value in (True, "in") else [(place.path, OUT)]
        else:
            said.append(said_value(value))
            edits.append((place.path, value))
    amount = None if places[0].is_presence else amount_of(values[0])
    return Level(" / ".join(dict.fromkeys(said)), None if amount is None else amount.si, tuple(edits))


def listed_level(varied: Varied, value: object, *, several: bool) -> Level:
    """Return the level that a hand-listed candidate names.

    Raises
    ------
    MisvariedError
        When the value cannot be taken.
    """
    return level_of(varied.places, _one_each(value, varied.places, several, ()))


def _one_each(value: object, places: Sequence[Place], several: bool, inside: Inside) -> list[Any]:
    """Return one value for each key; where a table names several keys, a list holds one each."""
    values = list(value) if several and isinstance(value, list | tuple) else [value] * len(places)
    if len(values) != len(places):
        words = (
            f"found a list of {len(values)} for {len(places)} keys; one value for all, or a list of one each, would fit"
        )
        raise MisvariedError(inside, words)
    for place, one in zip(places, values, strict=True):
        if place.is_presence and not (isinstance(one, bool) or one in ("in", "out")):
            raise MisvariedError(inside, f'found {found(one)}; true or false ("in" or "out") would fit')
    return values


def _ranged(name: str, table: VaryTable, places: tuple[Place, ...]) -> Varied:
    if any(place.is_presence for place in places):
        raise MisvariedError(("from",), "a thing is in or out; values = [true, false], or no range at all, would fit")
    several = table.keys is not None
    firsts = _one_each(table.from_, places, several, ("from",))
    lasts = _one_each(table.to, places, several, ("to",))
    spans = tuple(_span(first, last) for first, last in zip(firsts, lasts, strict=True))
    shares = _shares(table, spans)
    levels = []
    for share in shares:
        numbers = [_tidy(span.first.number + share * (span.last.number - span.first.number)) for span in spans]
        levels.append(level_of(places, [span.value(number) for span, number in zip(spans, numbers, strict=True)]))
    return Varied(name, places, tuple(levels), spans)


def _tidy(number: float) -> float:
    return float(f"{number:.10g}")


def _span(first: object, last: object) -> Span:
    ends = {}
    for key, value in (("from", first), ("to", last)):
        amount = amount_of(value)
        if amount is None:
            fits = 'a number with its unit would fit, such as "40 cm" (names and readings go into values = [ … ])'
            raise MisvariedError((key,), f"found {found(value)}; {fits}")
        ends[key] = amount
    begin, end = ends["from"], ends["to"]
    if begin.kind != end.kind:
        units = f"{found(first)} to {found(last)}"
        raise MisvariedError(("to",), f"the range goes from {units}; both ends in the same unit would fit")
    if begin.number == end.number:
        raise MisvariedError(("to",), f"the range begins and ends at {found(last)}; two different ends would fit")
    return Span(begin, end)


def _shares(table: VaryTable, spans: Sequence[Span]) -> list[float]:
    """Return the shares of the way at which a range with steps has its values; none for one without."""
    if table.count is not None:
        return [i / (table.count - 1) for i in range(table.count)]
    if table.step is None:
        return []
    width = abs(spans[0].last.number - spans[0].first.number)
    if any(abs(abs(span.last.number - span.first.number) - width) > 1e-9 * width for span in spans):
        raise MisvariedError(("step",), "the ranges of the keys differ in width; count in the place of step would fit")
    amount = amount_of(table.step)
    if amount is None or amount.kind != spans[0].first.kind or not 0.0 < amount.number <= width:
        example = spans[0].first.written(float(f"{width / 6.0:.2g}"))
        raise MisvariedError(
            ("step",),
            f"found {found(table.step)}; a step of up to the range's width would fit, such as {found(example)}",
        )
    steps = math.floor(width / amount.number * (1.0 + 1e-12))
    if steps + 1 > MOST_VALUES:
        raise MisvariedError(("step",), f"found {steps + 1} steps; up to {MOST_VALUES} values would fit")
    return [i * amount.number / width for i in range(steps + 1)]


def said_value(value: object) -> str:
    """Return a TOML value as a person reads it, on one line."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        text = "".join(c if c.isprintable() else "�" for c in value)
    elif isinstance(value, list | tuple):
        text = ", ".join(said_value(one) for one in value)
    elif isinstance(value, Mapping):
        text = ", ".join(f"{key} {said_value(one)}" for key, one in value.items())
    else:
        text = f"{value:.10g}" if isinstance(value, int | float) else str(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def ends_of(varied: Varied) -> Iterator[tuple[Inside, Level]]:
    """Return what of a varied thing has to be tried on the set, each with where it stands in its table."""
    if varied.is_continuous:
        for inside, share in ((("from",), 0.0), (("to",), 1.0), (("from",), 0.381966)):
            yield inside, level_of(varied.places, [span.at(share) for span in varied.spans])
    elif varied.spans:  # what lies between fits where both ends do
        yield ("from",), varied.levels[0]
        yield ("to",), varied.levels[-1]
    else:
        for i, level in enumerate(varied.levels):
            yield ("values", i), level


def unchanged(varied: Varied, raw: Mapping[str, Any]) -> Level:
    """Return the level at which a thing stays as the set has it."""
    values = [True if place.is_presence else value_at(place.path, raw) for place in varied.places]
    if any(value is None for value in values):
        return Level("as in the set", None, ())
    return level_of(varied.places, values)._replace(edits=())
