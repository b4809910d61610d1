"""Setup files changed in place: the standard parser reads what was meant, and every comment is still there."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import SET

from throughlight.setup.positions import layout
from throughlight.study.edit import edited, toml_value
from throughlight.study.keys import OUT, changed

TEXT = '''\
# top
top = 1 # one
"quoted key" = 'literal # no comment'
a.b.c = 1
a.b."d e" = [1, 2] # after
cards = [ # inline list
    { name = "x", at = ["1 cm", "2 cm"] }, # first
    # between
    { name = "y", size = { w = 1, "h h" = 2 } } # second
]
empty = {}
long = """
several
[lines] = 3 # no comment
"""

[camera] # the camera
at = [
    "0 cm",  # x
    "1 cm",
]
lens.focal = "3 \\"]" # escaped
lens.stop = 8

# before the heads
[[head]]
name = "one" # the first
face = { shape = "disc", diameter = "3 cm" }
[[head.part]]
x = 1
[[head.part]]
x = 2

[[head]]
  name = "two"
  [head.face] # of two
  shape = "tube"

[only.inner] # only is there through this
x = 1
[last]'''


def comments(text: str) -> list[str]:
    return re.findall(r"# [a-z ]+", text)


def paths_of(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    here = [path] if path else []
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return here + [one for key, inner in items for one in paths_of(inner, (*path, key))]


def without_empties(value: Any) -> Any:
    """Return tables without the lists that nothing is left in: a list of no tables and none at all say the same."""
    if isinstance(value, dict):
        return {key: without_empties(one) for key, one in value.items() if one != []}
    return [without_empties(one) for one in value] if isinstance(value, list) else value


RAW = tomllib.loads(TEXT)
PATHS = paths_of(RAW)


def value_at(path: tuple[str | int, ...]) -> Any:
    here: Any = RAW
    for step in path:
        here = here[step]
    return here


NEW_KEYS = [(*path, key) for path in [(), *PATHS] if isinstance(value_at(path), dict) for key in ("new", "a b")]


ELEMENTS = [("head", 0), ("head", 1), ("head", 0, "part", 0), ("head", 0, "part", 1)]
"""What has a header of its own in double brackets; only a table can take its place."""


@pytest.mark.parametrize("path", PATHS, ids=repr)
def test_any_value_can_be_replaced(path: tuple[str | int, ...]) -> None:
    value: Any = {"new": "# value"} if path in ELEMENTS else "new # value"
    new = edited(TEXT, [(path, value)])
    assert tomllib.loads(new) == changed(RAW, [(path, value)])
    if not isinstance(value_at(path), list):
        assert set(comments(TEXT)) <= set(comments(new)) | {"# no comment"}


@pytest.mark.parametrize("path", PATHS, ids=repr)
def test_any_key_table_or_element_can_be_left_out(path: tuple[str | int, ...]) -> None:
    new = edited(TEXT, [(path, OUT)])
    assert without_empties(tomllib.loads(new)) == without_empties(changed(RAW, [(path, OUT)]))
    assert set(comments(TEXT)) <= set(comments(new)) | {"# no comment"}


@pytest.mark.parametrize("path", NEW_KEYS, ids=repr)
def test_a_key_can_be_added_to_any_table(path: tuple[str | int, ...]) -> None:
    value = {"x": [1.5, True, 'say "so"\n'], "é": 1e300}
    new = edited(TEXT, [(path, value)])
    assert tomllib.loads(new) == changed(RAW, [(path, value)])
    assert comments(TEXT) == comments(new)


VALUES = st.recursive(
    st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)


TABLES = st.dictionaries(st.text(max_size=4), VALUES, max_size=3)


@given(VALUES)
def test_values_are_written_as_the_standard_parser_reads_them(value: Any) -> None:
    assert tomllib.loads(f"x = {toml_value(value)}")["x"] == value


@settings(deadline=None)
@given(st.lists(st.sampled_from(PATHS + NEW_KEYS), max_size=4, unique=True), st.data())
def test_several_changes_at_once(paths: list[tuple[str | int, ...]], data: st.DataObject) -> None:
    chosen = [path for path in paths if not any(path != one and path[: len(one)] == one for one in paths)]
    edits = [
        (path, OUT if path in PATHS and data.draw(st.booleans()) else data.draw(TABLES if path in ELEMENTS else VALUES))
        for path in chosen
    ]
    new = edited(TEXT, edits)
    assert without_empties(tomllib.loads(new)) == without_empties(changed(RAW, edits))


def test_line_ends_stay_what_they_are() -> None:
    text = SET.replace("\n", "\r\n")
    new = edited(text, [(("head", 0, "grid"), "30 deg"), (("flag", 0), OUT), (("head", 0, "energy"), "1 J")])
    assert "\n" not in new.replace("\r\n", "")
    assert tomllib.loads(new)["head"][0]["grid"] == "30 deg"


def test_what_is_left_out_can_be_read_as_a_comment() -> None:
    new = edited(SET, [(("flag", 1), OUT)])
    assert "# [[flag]]\n# cut from board\n# at = [" in new


def test_spans_of_values_are_what_the_parser_reads() -> None:
    for path, (begin, end) in layout(TEXT).values.items():
        assert tomllib.loads(f"x = {TEXT[begin:end]}")["x"] == value_at(path), path
