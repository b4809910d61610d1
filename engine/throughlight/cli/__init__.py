"""The command `throughlight`: one thin module a command, each imported only when it is called."""

from __future__ import annotations

import atexit
import gc
import importlib
from collections.abc import Mapping

import click

from throughlight import __version__

COMMANDS: Mapping[str, tuple[str, str]] = {
    "new": ("throughlight.cli.new:new", "Write a starter set that runs as it is."),
    "check": ("throughlight.cli.check:check", "Read and pre-flight a set, without tracing."),
    "meter": ("throughlight.cli.meter:meter", "Read a set in stops with error bars, without a picture."),
    "shoot": ("throughlight.cli.shoot:shoot", "Make the picture and the readings of a set."),
    "study": ("throughlight.cli.study:study", "Compare candidate sets overnight and rank them."),
    "swatch": ("throughlight.cli.swatch:swatch", "Find a new material from meter readings or a photo."),
    "match": ("throughlight.cli.match:match", "Compare a captured test frame with the prediction; calibrate the set."),
    "plan": ("throughlight.cli.plan:plan", "Draw the set to scale, to be set out with a tape."),
    "pitch": ("throughlight.cli.pitch:pitch", "Make the client's PDF: a page a look, what changes between them."),
    "kit": ("throughlight.cli.kit:kit", "List materials, surfaces, cloths, modifiers, bodies; your own too."),
}
"""Name of each command: where it is, and what it does."""

_INTERRUPTED = 130


class LazyGroup(click.Group):
    """A group that knows what its commands do without importing them, so that --help answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of a job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the one command that is called."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module), name)
        assert isinstance(command, click.Command)  # the table above names commands only
        return command

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; Ctrl-C while it is still being imported ends as it does later on.

        When all is done Python would look through all that it knows for rubbish, which takes a tenth of a short
        command's time; it is told to let all of it be.
        """
        atexit.register(gc.freeze)
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            click.echo("interrupted", err=True)
            ctx.exit(_INTERRUPTED)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, does) for name, (_, does) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="throughlight")
def main() -> None:
    """Predict what a small photographic set will do on camera, before any gear is moved.

    Exit codes: 0 done, 2 the input is wrong, 3 with --strict when a wish is not met, 130 interrupted.
    """
