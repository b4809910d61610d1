"""Typesetting: PDF pages from a template in `pages/` and what it is told, without a network.

What people have written reaches a template as data and comes out as text: it is never read as markup, whatever signs
are in it. Fonts are those that travel with the typesetter and the drawing library; the system's stand in for scripts
that these lack.
"""

from __future__ import annotations

import atexit
import json
import re
import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from throughlight.darkroom.names import seen

if TYPE_CHECKING:
    from typst import Fonts

HOUSE = "house.typ"
"""What all templates import: paper, type, colours."""

_PART = re.compile(r"[a-z0-9-]+\.(svg|png|jpg)")
_MAIN = "main.typ"


class TypesetError(RuntimeError):
    """A template that could not be set: a fault of ours, or a part that is no picture."""


def pdf(
    template: str, told: Mapping[str, object], parts: Mapping[str, bytes] | None = None, *, made: datetime | None = None
) -> bytes:
    """Return a PDF.

    Parameters
    ----------
    template
        File in `pages/`, such as "plan.typ"; it finds what it is told as `json(bytes(sys.inputs.told))`.
    told
        Plain data: text, numbers, lists and mappings of them. Signs that steer the direction of writing or cannot be
        seen are taken out of every text.
    parts
        Pictures by file name, such as "drawing.svg"; the template says `image("drawing.svg")`.
    made
        Time to note in the file; none where the same input is to give the same bytes.

    Raises
    ------
    TypesetError
        When the pages could not be set.
    """
    return _compiled("pdf", template, told, parts, None, made)[0]


def pages(
    template: str, told: Mapping[str, object], parts: Mapping[str, bytes] | None = None, *, ppi: float = 144.0
) -> list[bytes]:
    """Return each page as PNG, `ppi` pixels an inch; the rest as for `pdf`."""
    return _compiled("png", template, told, parts, ppi, None)


def _compiled(
    kind: Literal["pdf", "png"],
    template: str,
    told: Mapping[str, object],
    parts: Mapping[str, bytes] | None,
    ppi: float | None,
    made: datetime | None,
) -> list[bytes]:
    import typst

    files: dict[str, bytes] = {_MAIN: _text(template), HOUSE: _text(HOUSE)}
    for name, content in ({} if parts is None else parts).items():
        if _PART.fullmatch(name) is None:
            raise TypesetError(f"a part's name needs plain letters and .svg, .png or .jpg; found “{seen(name)}”")
        files[name] = content
    inputs = {"told": json.dumps(clean(told), ensure_ascii=False)}
    # Files handed over in memory must be text (typst 0.15), so pictures need a folder; the typesetter sees no other.
    with tempfile.TemporaryDirectory(prefix="throughlight-") as folder:
        for name, content in files.items():
            (Path(folder) / name).write_bytes(content)
        try:
            made_of = typst.compile(
                Path(folder) / _MAIN, root=Path(folder), format=kind, ppi=ppi, font_paths=_fonts(), sys_inputs=inputs,
                timestamp=made,
            )  # fmt: skip
        except typst.TypstError as trouble:
            raise TypesetError(f"the pages could not be set: {trouble.message}") from trouble
    return made_of if isinstance(made_of, list) else [made_of]


def clean(told: object) -> object:
    """Return plain data with every text as it may be shown."""
    if isinstance(told, str):
        return "\n".join(seen(line) for line in told.split("\n"))
    if isinstance(told, Mapping):
        return {key: clean(value) for key, value in told.items()}
    return [clean(value) for value in told] if isinstance(told, list | tuple) else told


def _text(name: str) -> bytes:
    return (resources.files("throughlight.sheets") / "pages" / name).read_bytes()


@cache
def _fonts() -> Fonts:
    """Return the fonts: the drawing library's sans serif, so that drawings and text match, then the typesetter's.

    That library also has a font of last resort, with a frame for every sign there is; a drawing's text with one sign
    that other fonts lack would be set in it throughout. So only the sans serif is taken, into a folder of its own.
    """
    import typst
    from matplotlib import get_data_path

    folder = Path(tempfile.mkdtemp(prefix="throughlight-fonts-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for font in (Path(get_data_path()) / "fonts" / "ttf").glob("DejaVuSans*.ttf"):
        shutil.copy(font, folder)
    return typst.Fonts(font_paths=[str(folder)])
