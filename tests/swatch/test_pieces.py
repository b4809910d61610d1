"""The file of a new piece and sentences on the command line: what is read, and each mistake in one sentence."""

from __future__ import annotations

import math

import pytest
from click.testing import CliRunner

from throughlight.cli import main
from throughlight.setup import SetupError
from throughlight.setup.families import family_names, family_of
from throughlight.setup.piece_sentences import tables_from
from throughlight.setup.pieces import Piece, load_piece, piece_from
from throughlight.setup.shown import ShownKind

READING = '[[reading]]\nthickness = "4 mm"\nless = "5.3 stops"\n'


def read(tmp_path, text) -> Piece:
    (tmp_path / "piece.toml").write_text(text, "utf-8")
    return load_piece(tmp_path / "piece.toml")


def mistake(tmp_path, text) -> str:
    with pytest.raises(SetupError) as caught:
        read(tmp_path, text)
    (only,) = caught.value.mistakes
    assert "\n" not in str(only)
    return str(only)


def test_a_reading_is_read(tmp_path):
    piece = read(tmp_path, 'name = "onyx"\nkind = "stone"\n' + READING)
    assert piece.readings[0].thickness == pytest.approx(4e-3)
    assert piece.readings[0].stops == (5.3, 5.3, 5.3)
    assert piece.index == pytest.approx(1.56)  # the middle of what stones have


def test_three_bands(tmp_path):
    piece = read(tmp_path, READING.replace("5.3 stops", "4.1 4.6 7.0 stops"))
    assert piece.readings[0].stops == (4.1, 4.6, 7.0)


@pytest.mark.parametrize(
    ("bare", "piece", "stops"),
    [
        ("f/22", "f/4", 5.0),  # marks: whole stops 4, 5.6, 8, 11, 16, 22
        ("f/22 + 0.2 stop", "f/16 - 0.1 stop", 1.3),
        ("f/11", "f/9.5", 0.5),
        ("f/8", "f/6.3", 2.0 / 3.0),
        ("1/500 s", "1/60 s", 3.0),
        ("EV 12.3", "EV 9.1", 3.2),
        ("800 lx", "100 lx", 3.0),
    ],
)
def test_what_a_meter_shows(tmp_path, bare, piece, stops):
    text = f'[[reading]]\nthickness = "4 mm"\nbare = "{bare}"\npiece = "{piece}"\n'
    assert read(tmp_path, text).readings[0].stops == pytest.approx((stops,) * 3, abs=1e-9)


def test_thirds_and_halves_of_the_aperture_scale():
    # Each engraved aperture stands for a third or half of a stop within the rounding of two figures (0.1 stop).
    for number in (1.4, 2.8, 3.5, 5.6, 7.1, 11, 13, 19, 22, 29, 45, 57, 90):
        assert ShownKind().parse(f"f/{number:g}").stops == pytest.approx(2.0 * math.log2(number), abs=0.1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            '[[reading]]\nthickness = "4 mm"\nless = "-0.7 stop"\n',
            "more light with the piece than without (0.7 stop more)",
        ),
        ('[[reading]]\nthickness = "4 mm"\nbare = "f/8"\npiece = "f/11"\n', "more light with the piece than without"),
        ('[[reading]]\nthickness = "4 mm"\nless = "0.01 stop"\nerror = 1\n', "error"),
        (
            'n = 1.5\n[[reading]]\nthickness = "4 mm"\nless = "0.001 stop"\n',
            "the two faces of a clear plate of index 1.5",
        ),
        (
            READING + '[[reading]]\nthickness = "8 mm"\nless = "4.2 stops"\n',
            "8 mm passes 1.1 stop more light than 4 mm (reading 1)",
        ),
        (
            '[[reading]]\nthickness = "4 mm"\nless = "0.4 stop"\n[[card]]\nthickness = "4 mm"\nover = "2 stops"\n',
            "together",
        ),
        (READING + '[[card]]\nthickness = "4 mm"\nover = "4 stops"\n', "gives back more than falls on it"),
        ('[[reading]]\nthickness = "4 mm"\nbare = "f/8"\npiece = "1/60 s"\n', "two of one sort would fit"),
        ('[[reading]]\nthickness = "4 mm"\nbare = "f/16.7"\npiece = "f/8"\n', 'is written "f/16 + 0.7 stop"'),
        ('[[reading]]\nthickness = "4 mm"\n', 'less = "5.3 stops", or bare and piece, would fit'),
        ('[[reading]]\nthickness = "4 mm"\nless = 5.3\n', "a unit is missing"),
        ('kind = "ston"\n' + READING, "a kind of matter would fit"),
        ('name = "soap"\n', "nothing was read"),
        (READING + '[published]\nreduced_scattering = "1 1/mm"\nabsorption = "0.1 1/mm"\n', "stand side by side"),
        ('[published]\nabsorption = "0.1 1/mm"\n', "exactly one of reduced_scattering"),
        ('[[photo]]\npicture = "none.tif"\nthickness = "4 mm"\n', "no such file"),
        ('colour = "red"\n' + READING, "no key of this table"),
    ],
)
def test_mistakes(tmp_path, text, words):
    assert words in mistake(tmp_path, text)


def test_a_mistake_names_file_and_line(tmp_path):
    said = mistake(tmp_path, 'name = "onyx"\n' + READING.replace("5.3", "-5.3"))
    assert "piece.toml, line 2: reading[1]:" in said


@pytest.mark.parametrize(
    ("sentence", "tables"),
    [
        ("5.3 stops less through 4 mm", {"reading": [{"less": "5.3 stops", "thickness": "4 mm"}]}),
        ("5.3 stops through 4 mm", {"reading": [{"less": "5.3 stops", "thickness": "4 mm"}]}),
        ("f/22 bare, f/4 through 4 mm", {"reading": [{"bare": "f/22", "piece": "f/4", "thickness": "4 mm"}]}),
        ("1.2 stops under the card at 4 mm", {"card": [{"over": "-1.2 stops", "thickness": "4 mm"}]}),
        ("0.4 stop over the card at 8 mm", {"card": [{"over": "0.4 stop", "thickness": "8 mm"}]}),
        ("5 1/3 stops less through 4 mm", {"reading": [{"less": "5.333 stops", "thickness": "4 mm"}]}),
        ("5⅔ EV darker through 4,5 mm", {"reading": [{"less": "5.667 stops", "thickness": "4.5 mm"}]}),
        ("5,3 stops through 4mm", {"reading": [{"less": "5.3 stops", "thickness": "4mm"}]}),
        ("½ stop less through 1 mm", {"reading": [{"less": "0.500 stop", "thickness": "1 mm"}]}),
        ("4 1/3 4.5 7 stops less through 4 mm", {"reading": [{"less": "4.333 4.5 7 stops", "thickness": "4 mm"}]}),
        ("−1 stop through 4 mm", {"reading": [{"less": "-1 stop", "thickness": "4 mm"}]}),
        ("+1 stops more through 4 mm", {"reading": [{"less": "-1 stops", "thickness": "4 mm"}]}),
        ("−1 1/3 stops over the card at 4 mm", {"card": [{"over": "-1.333 stops", "thickness": "4 mm"}]}),
    ],
)
def test_sentences(sentence, tables):
    assert tables_from([sentence]) == tables


@pytest.mark.parametrize("sentence", ["", "5.3", "through", "x" * 10_000, "5.3 stops less thrugh 4 mm"])
def test_what_is_no_sentence(sentence):
    with pytest.raises(SetupError, match="would fit"):
        tables_from([sentence])


@pytest.mark.parametrize(("said", "stops"), [("f/16 + 1/3 stop", 25 / 3), ("f/8 − 0,5 stop", 5.5), ("EV 11,3", 11.3)])
def test_a_meter_is_read_out_as_in_the_trade(said, stops):
    assert ShownKind().parse(said).stops == pytest.approx(stops, abs=1e-3)


@pytest.mark.parametrize("reading", ["-1 stop through 4 mm", "−1 stops less through 4 mm", "+1 stop more through 4 mm"])
def test_more_light_with_the_piece_is_refused_however_it_is_typed(reading):
    """A minus and a digit begin no option."""
    result = CliRunner().invoke(main, ["swatch", reading])
    assert result.exit_code == 2
    assert "more light with the piece than without (1 stop more)" in result.output
    assert len(result.output.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("0 stops less through 4 mm", "as much light with the piece as without"),
        ("f/11 bare, f/11 through 4 mm", "as much light with the piece as without"),
        ("40 stops less through 4 mm", "a meter tells no more than 25"),
        ("5.3 stops less through 4 m", "at most 50 cm would fit"),
    ],
)
def test_readings_that_no_piece_gives(tmp_path, reading, words):
    with pytest.raises(SetupError, match=words):
        piece_from(tables_from([reading]), "the command line", tmp_path)


def test_the_command_line_names_itself(tmp_path):
    with pytest.raises(SetupError, match=r"the command line: reading\[1\]: more light with the piece"):
        piece_from(tables_from(["-1 stops less through 4 mm"]), "the command line", tmp_path)


@pytest.mark.parametrize("name", family_names())
def test_every_family_holds_its_own_materials(name):
    """Each material of a kind lies within three standard deviations of it, and the kit has all of them."""
    from throughlight.kit import lookup
    from throughlight.setup import Material

    family = family_of(name)
    for member in family.members:
        material = Material.model_validate(dict(lookup("materials", member).values))
        for normal, values in ((family.scatter, material.reduced_scattering), (family.absorb, material.absorption)):
            for one in values if normal is not None else ():
                assert one == 0.0 or abs(math.log(one) - normal[0]) < 3.0 * normal[1]


def test_a_material_is_a_kind_of_its_own():
    marble = family_of("marble")
    assert marble.alone
    assert marble.n[0] == 1.5
    assert 0.0 < marble.n[1] < 0.05
    assert math.exp(marble.scatter[0]) == pytest.approx((2190.0 * 2620.0 * 3000.0) ** (1.0 / 3.0))
    assert family_of("clear").scatter is None
    assert family_of("glass").name == "clear"


@pytest.mark.parametrize("name", family_names())
def test_every_family_has_ranges_that_matter_can_have(name):
    family = family_of(name)
    for (middle, deviation), lowest, highest in ((family.n, 1.0, 1.8), (family.g, 0.0, 0.95), (family.roughness, 0, 1)):
        assert lowest <= middle - math.sqrt(3.0) * deviation + 1e-9
        assert middle + math.sqrt(3.0) * deviation - 1e-9 <= highest
