"""What the commands share: their options, their exit codes, and mistakes said in a sentence instead of a traceback."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, ParamSpec, TypeVar

import click

if TYPE_CHECKING:
    from throughlight.readings.reading import Readings
    from throughlight.setup import Setup

P = ParamSpec("P")
R = TypeVar("R")
Command = TypeVar("Command", bound=Callable[..., object])

WRONG_INPUT = 2
UNMET = 3
INTERRUPTED = 130
_LARGEST_SEED = 2**63 - 1
ENCODING = click.Choice(["auto", "sRGB", "linear"])
"""How a photo's code values stand for light."""


def reported(command: Callable[P, R]) -> Callable[P, R]:
    """Wrap a command so that wrong input ends in its sentences and exit code 2, and Ctrl-C in 130."""

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except KeyboardInterrupt:
            click.echo("interrupted", err=True)
            sys.exit(INTERRUPTED)
        except ValueError as trouble:
            from throughlight.setup import SetupError

            if not isinstance(trouble, SetupError):
                raise
            click.echo(str(trouble), err=True)
            sys.exit(WRONG_INPUT)

    return wrapped


def refuse(where: Path | str, trouble: Exception) -> NoReturn:
    """Say in a sentence what went wrong with a file or folder, and leave as after wrong input."""
    if isinstance(trouble, OSError) and trouble.strerror:
        named = where if trouble.filename is None else trouble.filename
        click.echo(f"{named}: {trouble.strerror}; another place would fit", err=True)
    else:
        click.echo(f"{where}: {trouble}", err=True)
    sys.exit(WRONG_INPUT)


# ParamType is generic in newer releases of click and not in older ones, so no type argument would suit both.
class QuantityParameter(click.ParamType):  # type: ignore[type-arg]
    """A quantity with its unit on the command line, as in a setup file."""

    name = "quantity"

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return its SI value."""
        if isinstance(value, float):
            return value
        from pydantic_core import PydanticCustomError

        from throughlight.setup import units

        try:
            return float(getattr(units, self.kind).parse(value))
        except PydanticCustomError as trouble:
            self.fail(trouble.message(), param, ctx)


class SpotParameter(click.ParamType):  # type: ignore[type-arg]
    """A place in the frame, "x,y": shares from the left and from the top."""

    name = "x,y"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Return x and y from 0 to 1."""
        sides = str(value).split(",")
        try:
            x, y = (float(side.strip().removesuffix("%")) / (100.0 if "%" in side else 1.0) for side in sides)
        except ValueError:
            x = y = -1.0
        if not (0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
            fits = "shares of the frame from its left and top would fit, such as 50%,40%"
            self.fail(f'found "{value}"; {fits}', param, ctx)
        return (x, y)


def common_options(command: Command) -> Command:
    """Give a command --json, --quiet and --seed."""
    seed_help = "Start of the random numbers; the set's own when left out."
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print everything as JSON, units in the keys."),
        click.option("--quiet", is_flag=True, help="Print no progress and nothing that is not asked for."),
        click.option("--seed", type=click.IntRange(0, _LARGEST_SEED), help=seed_help),
    ):
        command = option(command)
    return command


def quality_options(command: Command) -> Command:
    """Give a command --tolerance, --time-limit, --spot and --threads."""
    tolerance, time = QuantityParameter("TOLERANCE"), QuantityParameter("TIME")
    tolerance_help = "Half of the 95 % interval to reach."
    time_help = 'Begin no further round after this time, such as "2 min".'
    for option in (
        click.option("--tolerance", type=tolerance, default="0.05 stop", show_default=True, help=tolerance_help),
        click.option("--time-limit", type=time, help=time_help),
        click.option("--spot", type=SpotParameter(), multiple=True, help="Read this place too; may be repeated."),
        click.option("--threads", type=click.IntRange(1, 1024), help="How many threads; all when left out."),
    ):
        command = option(command)
    return command


def spotted(setup: Setup, spots: tuple[tuple[float, float], ...]) -> Setup:
    """Return the set with the spots of the command line added to its own."""
    from throughlight.setup import Spot

    taken = {spot.name for spot in setup.spots}
    free = (name for i in range(1, 10**6) if (name := f"spot {i}") not in taken)
    more = (Spot.model_construct(name=next(free), x=x, y=y) for x, y in spots)
    return setup.model_copy(update={"spots": (*setup.spots, *more)})


def strict_exit(readings: Readings, *, strict: bool) -> None:
    """Leave with 130 if the work was interrupted, with 3 if a wish is not met and that was asked for."""
    if readings.making.reason == "interrupted":
        sys.exit(INTERRUPTED)
    if strict and not readings.as_wanted:
        sys.exit(UNMET)
