"""Progress on the terminal: what is being traced, how far it is, and the figures so far."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from throughlight.readings.intervals import Stops

MeterProgress = Callable[[str, float, Mapping[str, Stops]], None]
PictureProgress = Callable[[float, int], None]
Told = Callable[[str], None]

_LABELS = (("subject", "subject"), ("backdrop", "backdrop"), ("veil", "veil"))


def _figures(figures: Mapping[str, Stops]) -> str:
    from throughlight.sheets.numbers import stops

    return "   ".join(f"{label} {stops(figures[name])}" for name, label in _LABELS if name in figures)


def _compiling() -> tuple[str, bool]:
    """Return what to say when the tracer is being compiled, and whether that will be so at each run."""
    from throughlight.optics.keeping import place_to_write

    if place_to_write() is not None:
        return "compiling the tracer for this computer, once", False
    return "compiling the tracer anew: no folder for it can be written to; XDG_CACHE_HOME could name one", True


@contextmanager
def bar(*, quiet: bool) -> Iterator[Callable[[float, str], None] | None]:
    """Yield a function that moves a bar on stderr, or None where there is none; say it when the tracer is compiled."""
    if quiet:
        yield None
        return
    if not sys.stderr.isatty():
        from throughlight.optics.compiling import compiling_told

        with compiling_told(lambda: print(_compiling()[0], file=sys.stderr, flush=True)):
            yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(bar_width=20), TimeElapsedColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        # A finished task stops its clock, and each round begins anew: so it never quite finishes.
        task = progress.add_task("getting ready", total=1.001)

        def compiling() -> None:
            words, always = _compiling()
            if always:
                progress.console.print(words)
            progress.update(task, description=words)

        from throughlight.optics.compiling import compiling_told

        with compiling_told(compiling):
            yield lambda share, words: progress.update(task, completed=share, description=words)


@contextmanager
def work_progress(*, quiet: bool) -> Iterator[tuple[MeterProgress | None, PictureProgress | None]]:
    """Yield the progress functions of the readings and of the picture, or None twice where nobody looks."""
    with bar(quiet=quiet) as move:
        if move is None:
            yield None, None
        else:
            yield (
                lambda what, share, figures: move(share, f"{what}   {_figures(figures)}"),
                lambda share, samples: move(share, f"picture, {samples} samples a pixel in this pass"),
            )


@contextmanager
def preview_progress(path: Path, *, quiet: bool) -> Iterator[tuple[PictureProgress | None, Told | None]]:
    """Yield the progress function of a preview and the one that hears what stands in its file.

    On a terminal a bar says both, under the file's name; elsewhere a line is written for each new state.
    """
    with bar(quiet=quiet) as move:
        if move is None:
            yield None, None if quiet else lambda words: print(f"{path}: {words}", file=sys.stderr, flush=True)
        else:
            stands = ["nothing yet"]

            def say(share: float, samples: int) -> None:
                move(share, f"{path}: {stands[0]}")

            def told(words: str) -> None:
                stands[0] = words
                move(0.0, f"{path}: {words}")

            yield say, told
