"""The house style of pages: one self-contained file, opened from disk, no server, no network.

Pages are dark on a screen, so that they don't light up a studio, and dark on white in print. Ink and paper are those of
the stops legend; accents are stops of the project's own scale, so that a page and its pictures belong together. Names
that people give to things come out as text, whatever signs are in them: every value is escaped, signs that steer the
direction of writing are left out, and each name is set apart from the direction of its surroundings.
"""

from __future__ import annotations

import base64
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from throughlight.darkroom import scale
from throughlight.darkroom.names import seen

if TYPE_CHECKING:
    from jinja2 import Environment

    from throughlight.darkroom.scale import Colours


class Palette(NamedTuple):
    """Colours of a page, as CSS writes them; `rule` parts things, `faint` draws what is to be made out but no text."""

    paper: str
    raised: str
    rule: str
    faint: str
    ink: str
    quiet: str
    accent: str
    second: str
    doubt: str


def screen() -> Palette:
    """Return the colours on a screen: ice blue and mauve of the stops scale, lemon for what is in doubt."""
    accent, second, doubt = (_hex(scale.colours(np.array([stops]))[0]) for stops in (1.0, -1.8, scale.CLIP_STOPS))
    return Palette("#1e1f20", "#262829", "#45484a", "#797d80", "#e1e2e3", "#b3b6b8", accent, second, doubt)


def print_out() -> Palette:
    """Return the colours in print: the same hues, dark enough for white paper."""
    return Palette("#ffffff", "#f5f5f4", "#b9bcbe", "#85898c", "#141516", "#4c4f51", "#1d4f86", "#64438c", "#6b5900")


def _hex(colour: Colours) -> str:
    return "#" + "".join(f"{int(value):02x}" for value in colour)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("throughlight.sheets", "pages"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["seen"] = seen
    return environment


def page(template: str, **told: object) -> str:
    """Return a page from a template in `pages/`, every value escaped; all are given `colours` and `print_colours`."""
    return _environment().get_template(template).render(colours=screen(), print_colours=print_out(), **told)


def data_uri(content: bytes, kind: str) -> str:
    """Return a file's content as an address that holds it; `kind` is its media type."""
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"
