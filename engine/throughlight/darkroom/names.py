"""Names that people give to things, made safe for a file's own labels.

A name may hold any language and any sign that can be seen. What cannot be seen and steers the reader instead (control
signs, marks that reverse the direction of writing, halves of characters) is left out.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

_LONGEST = 60  # characters; at most 240 bytes in UTF-8, under the 255 that OpenEXR allows with ".R" after it


def seen(text: str, longest: int | None = None) -> str:
    """Return a text on one line without signs that cannot be seen, cut to `longest` characters."""
    spaced = " ".join(text.split())
    kept = "".join(sign for sign in spaced if not unicodedata.category(sign).startswith("C"))
    # Joined a second time, because what was taken out may have stood between two spaces.
    return " ".join(kept.split())[:longest]


def short(text: str, longest: int) -> str:
    """Return a text as `seen` has it, with an ellipsis at its end where it is longer than a sheet has room for."""
    plain = seen(text)
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"


def layer_names(names: Iterable[str], taken: Iterable[str] = ()) -> dict[str, str]:
    """Return the name of an OpenEXR layer for each name, all different.

    The standard sets layer and channel apart by a full stop, so a name may hold none.

    Parameters
    ----------
    names : iterable of str
        Names as given; each once.
    taken : iterable of str
        Layer names that are not to be had.
    """
    used, result = set(taken), {}
    for name in names:
        plain = seen(name.replace(".", "_"), _LONGEST)
        if not plain:
            plain = "layer"
        layer, again = plain, 2
        while layer in used:
            layer, again = f"{plain[: _LONGEST - 6]} {again}", again + 1
        used.add(layer)
        result[name] = layer
    return result
