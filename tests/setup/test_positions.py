"""The scanner of places in the text, against texts in every way TOML 1.0 has of writing a key."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from throughlight.setup.positions import nearest_position, positions

TEXT = '''\
# a comment with [brackets] = "and quotes"
title = """
several
[lines] = 3
"""
"quoted key" = 'literal # not a comment'
a.b.c = 1

[camera] # comment
at = [
    "0 cm",  # x ]
    "1 cm",
    ["deep", { x = 1, "y z" = [2, 3] }],
]
lens.focal = "3 \\"]"  # escaped

[[head]]
name = "one"
face = { shape = "disc", diameter = "3 cm" }

[[head]]
  name = "two"
[head.face]
shape = "tube"
[[head.part]]
x = 1
[[head.part]]
x = 2
'''


def test_every_way_of_writing_a_key_is_found():
    tomllib.loads(TEXT)
    where = positions(TEXT)
    assert where["title",] == (2, 1)
    assert where["quoted key",] == (6, 1)
    assert where["a", "b", "c"] == (7, 1)
    assert where["camera",] == (9, 1)
    assert where["camera", "at"] == (10, 1)
    assert where["camera", "at", 0] == (11, 5)
    assert where["camera", "at", 1] == (12, 5)
    assert where["camera", "at", 2, 1, "x"] == (13, 16)
    assert where["camera", "at", 2, 1, "y z", 1] == (13, 35)
    assert where["camera", "lens", "focal"] == (15, 1)
    assert where["head", 0, "name"] == (18, 1)
    assert where["head", 0, "face", "diameter"] == (19, 26)
    assert where["head", 1] == (21, 1)
    assert where["head", 1, "name"] == (22, 3)
    assert where["head", 1, "face", "shape"] == (24, 1)
    assert where["head", 1, "part", 0, "x"] == (26, 1)
    assert where["head", 1, "part", 1, "x"] == (28, 1)


def test_the_nearest_thing_around_stands_in_for_what_is_missing():
    where = positions(TEXT)
    assert nearest_position(("head", 1, "face", "diameter"), where) == (23, 1)
    assert nearest_position(("subject",), where) == (0, 0)


def test_other_line_ends_and_no_last_line_end():
    where = positions("a = 1\r\n[b]\r\nc = [1,\r\n 2]")
    assert where["b", "c"] == (3, 1)
    assert where["b", "c", 1] == (4, 2)


_SCALARS = st.one_of(
    st.integers(-99, 99).map(str),
    st.sampled_from(["true", "1979-05-27", "1e5", "'a ] } #'", '"b \\" , {"', "'''c\n]'''", '"""d\n"quoted" }"""']),
)
_VALUES = st.recursive(
    _SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda some: "[ " + ", # c\n ".join(some) + " ]"),
        st.lists(inner, max_size=3).map(
            lambda some: "{ " + ", ".join(f"k{i} = {one}" for i, one in enumerate(some)) + " }"
        ),
    ),
    max_leaves=8,
)


def _paths(value, path=()):
    yield path
    if isinstance(value, dict | list):
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _paths(inner, (*path, key))


@given(st.lists(_VALUES, max_size=4), st.lists(_VALUES, max_size=4))
def test_every_key_that_the_parser_finds_has_a_place(first, second):
    lines = [f"key{i} = {value}" for i, value in enumerate(first)]
    lines += [line for value in second for line in ("[[table]]", f"inner = {value}")]
    text = "\n".join(lines)
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return  # a line break within an inline table
    where = positions(text)
    for path in list(_paths(parsed))[1:]:
        assert path in where, path
