"""Finishes in a setup file: what each kind takes, what it refuses, and what it takes over from the kit."""

from __future__ import annotations

import tomllib

import jsonschema
import numpy as np
import pytest
from PIL import Image
from setup_texts import SET, changed, line_of

import throughlight.setup as tls
from throughlight.setup import Mistake, SetupError, Surface
from throughlight.setup.finishes import surface_from


def with_cloth(finish: str) -> str:
    return changed('cloth = "black velvet"', f"cloth = {finish}")


def finish_of(finish: str, folder=None) -> Surface:
    setup = tls.loads(with_cloth(finish), folder=folder)
    assert setup.backdrop is not None
    return setup.backdrop.surface


def mistakes_in(finish: str, folder=None) -> list[Mistake]:
    text = with_cloth(finish)
    with pytest.raises(SetupError) as caught:
        tls.loads(text, name="set.toml", folder=folder)
    assert all(one.line == line_of(text, "cloth = ") for one in caught.value.mistakes)
    return caught.value.mistakes


SILVER = "index = [0.052, 0.06, 0.04], extinction = [4.4, 3.6, 2.6]"


@pytest.mark.parametrize(
    ("finish", "key", "words"),
    [
        ("{ reflectance = 0.2, pile = 0.1 }", "pile", 'found a pile on a matte finish; kind = "cloth" would fit'),
        ("{ reflectance = 0.2, sheen = 0.1 }", "sheen", 'found a sheen on a matte finish; kind = "cloth" would fit'),
        (
            '{ kind = "mirror", reflectance = 0.9, roughness = 0.1 }',
            "roughness",
            'found a roughness on a mirror finish; kind = "metal" or "gloss" would fit',
        ),
        (
            f'{{ kind = "metal", {SILVER}, reflectance = 0.9 }}',
            "reflectance",
            'found a reflectance on a metal finish; kind = "matte", "cloth", "mirror" or "gloss" would fit',
        ),
        (
            f'{{ kind = "metal", {SILVER}, n = 1.5 }}',
            "n",
            'found an index n on a metal finish; kind = "gloss" would fit',
        ),
        (
            '{ kind = "gloss", reflectance = 0.9, index = 1.5 }',
            "index",
            'found an index of red, green and blue on a gloss finish; kind = "metal" would fit',
        ),
        (
            '{ kind = "gloss", reflectance = 0.9, extinction = 2 }',
            "extinction",
            'found an extinction on a gloss finish; kind = "metal" would fit',
        ),
        ('{ kind = "mettal", reflectance = 0.9 }', "kind", 'found "mettal"; "matte", "cloth", "mirror", "metal" or '),
        ('{ kind = "metal", index = 0.06, extinction = -1 }', "extinction", "found -1; an extinction, zero or more,"),
        ('{ kind = "metal", index = 0, extinction = 3 }', "index", "found 0; a refractive index above zero would fit"),
        (
            '{ kind = "gloss", reflectance = 0.9, roughness = 1.5 }',
            "roughness",
            "found 1.5; a roughness of at most 1 would fit",
        ),
        (
            '{ kind = "gloss", reflectance = 0.9, n = 0.9 }',
            "n",
            "found 0.9; a refractive index from 1 to 4 would fit",
        ),
    ],
)
def test_a_key_or_value_that_does_not_belong(finish, key, words):
    (mistake,) = mistakes_in(finish)
    assert mistake.key == f"backdrop.cloth.{key}"
    assert mistake.message.startswith(words)


@pytest.mark.parametrize(
    ("finish", "keys"),
    [
        ('{ kind = "metal" }', ["extinction", "index"]),
        ('{ kind = "metal", roughness = 0.2, index = 0.06 }', ["extinction"]),
        ('{ kind = "gloss", n = 1.5 }', ["reflectance"]),
        ('{ kind = "cloth", pile = 0.1 }', ["reflectance"]),
        ("{ }", ["reflectance"]),
    ],
)
def test_a_key_that_is_missing(finish, keys):
    mistakes = mistakes_in(finish)
    assert sorted(one.key for one in mistakes) == [f"backdrop.cloth.{key}" for key in keys]
    assert all(one.message.startswith("nothing was found (") for one in mistakes)
    assert all("; it has to be given" in one.message for one in mistakes)


def test_a_metal_and_a_gloss():
    metal = finish_of(f'{{ kind = "metal", {SILVER}, roughness = 0.25 }}')
    assert metal.complex_index == ((0.052, 0.06, 0.04), (4.4, 3.6, 2.6))
    assert metal.roughness == 0.25
    gloss = finish_of('{ kind = "gloss", reflectance = "4 %" }')
    assert (gloss.reflectance, gloss.n, gloss.roughness) == ((0.04, 0.04, 0.04), 1.5, 0.0)


def test_what_is_like_another_takes_over_only_what_goes_with_its_kind():
    rough = finish_of('{ like = "silver", roughness = 0.3 }')
    assert (rough.kind, rough.roughness, rough.name) == ("metal", 0.3, "silver")
    matte = finish_of('{ like = "silver", kind = "matte", reflectance = 0.9 }')
    assert (matte.kind, matte.index, matte.reflectance) == ("matte", None, (0.9, 0.9, 0.9))
    varnished = finish_of('{ like = "light wood", kind = "gloss", n = 1.6 }')
    assert (varnished.reflectance, varnished.n) == ((0.55, 0.42, 0.28), 1.6)
    (mistake,) = mistakes_in('{ like = "silver", kind = "matte" }')
    assert mistake.key == "backdrop.cloth.reflectance"
    (mistake,) = mistakes_in('{ like = "silver", kind = "matt" }')
    assert mistake.key == "backdrop.cloth.kind"
    assert surface_from({"like": "silver", "kind": []}) is not None  # said where the kind is read


@pytest.fixture
def printed(tmp_path):
    """Return a folder with a print of 4 × 2 pixels."""
    Image.fromarray(np.arange(24, dtype=np.uint8).reshape(2, 4, 3) * 10).save(tmp_path / "print.png")
    return tmp_path


def print_of(keys: str) -> str:
    return f'{{ pattern = {{ picture = "print.png", width = "1 m"{keys} }} }}'


def test_a_pattern(printed):
    keys = 'width = "20 cm", at = ["1 cm", "-5 mm"], white = 0.85'
    read = finish_of(f'{{ kind = "gloss", pattern = {{ picture = "print.png", {keys} }} }}', printed)
    pattern = read.pattern
    assert pattern is not None
    assert (pattern.picture, pattern.width, pattern.height) == (printed / "print.png", 0.2, None)
    assert (pattern.at, pattern.white, pattern.encoding) == ((0.01, -0.005), 0.85, "sRGB")
    paper = finish_of('{ like = "white paper", pattern = { picture = "print.png", width = "1 m" } }', printed)
    assert (paper.kind, paper.name, paper.reflectance) == ("matte", "white paper", (0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("finish", "key", "words"),
    [
        (
            f'{{ kind = "metal", {SILVER}, pattern = {{ picture = "print.png", width = "1 m" }} }}',
            "pattern",
            'found a pattern on a metal finish; kind = "matte", "cloth" or "gloss" would fit',
        ),
        (
            '{ reflectance = 0.8, pattern = { picture = "print.png", width = "1 m" } }',
            "reflectance",
            "found a reflectance beside a pattern; the pattern's own, white = 0.85, would fit",
        ),
        ('{ pattern = { picture = "prnt.png", width = "1 m" } }', "pattern.picture", 'found "prnt.png"; no such file'),
        ('{ pattern = { picture = "set.txt", width = "1 m" } }', "pattern.picture", 'found "set.txt"; a picture that'),
        ('{ pattern = { picture = "broken.png", width = "1 m" } }', "pattern", 'found "broken.png"; the picture can'),
        ('{ pattern = { picture = "print.png" } }', "pattern.width", "nothing was found (how wide the picture"),
        (
            print_of(', at = ["1 cm"]'),
            "pattern.at",
            "found an array of 1; two lengths would fit, to the right and up from the middle, such as ",
        ),
        (print_of(', at = ["1 cm", 2]'), "pattern.at", "found 2; a unit is missing"),
        (print_of(', height = "0 cm"'), "pattern.height", 'found "0 cm"; a length above zero would fit'),
        (print_of(", white = 0"), "pattern.white", "found 0; a reflectance from 0.001 to 1 would fit"),
        (print_of(", white = 1.1"), "pattern.white", "found 1.1; a reflectance of at most 1 would fit"),
        (print_of(', encoding = "gamma"'), "pattern.encoding", 'found "gamma"; "sRGB" or "linear" would fit'),
        (print_of(', turned = "3 deg"'), "pattern.turned", '"turned" is no key of this table'),
    ],
)
def test_a_pattern_that_cannot_be(printed, finish, key, words):
    (printed / "broken.png").write_bytes(b"\x89PNG nothing")
    (mistake,) = mistakes_in(finish, printed)
    assert mistake.key == f"backdrop.cloth.{key}"
    assert mistake.message.startswith(words)


def test_a_print_of_ones_own_kit_lies_beside_it(printed):
    (printed / "kit.toml").write_text(
        '[surfaces."our label"]\nlike = "white card"\npattern = { picture = "print.png", width = "6 cm" }\n', "utf-8"
    )
    read = finish_of('"our label"', printed)
    assert read.pattern is not None
    assert read.pattern.picture == printed / "print.png"


@pytest.mark.parametrize(
    ("finish", "fits"),
    [(f'{{ kind = "metal", {SILVER} }}', True), (print_of(""), True), ('{ kind = "gloss", roughness = 0.1 }', False)],
)
def test_the_schema_knows_what_a_finish_needs(finish, fits):
    validator = jsonschema.Draft202012Validator(tls.schema())
    table = tomllib.loads(SET.replace('cloth = "black velvet"', f"cloth = {finish}"))
    assert validator.is_valid(table) is fits
