"""The client's PDF, read back with a PDF library of its own: pages, text, pictures, metadata, margins, words."""

from __future__ import annotations

import json
import re
import unicodedata
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
from click.testing import CliRunner
from PIL import Image
from pitch_looks import OTHER, PITCH, SET, ink_in_margins, look, text_of

from throughlight import cli
from throughlight.sheets import pitch_pictures
from throughlight.sheets.pitch import Style, sheet
from throughlight.sheets.pitch_pictures import PAPERS, in_rows, place_on
from throughlight.sheets.pitch_words import english, words_from

GERMAN = Path(__file__).with_name("pitch.de.toml")
QUICK = ("--dpi", "10", "--samples", "8", "--threads", "2")
OUTER = (17.0, 14.0, 17.0, 6.0)  # mm that stay empty: page margins are 18, 15 and 18; the foot stands in the last 14


@pytest.fixture(scope="module")
def sets(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("sets")
    first, other = folder / "first.toml", folder / "other.toml"
    first.write_text(SET + PITCH, encoding="utf-8")
    other.write_text(
        OTHER + '[finish]\ncrop = "4:5"\nhide_supports = true\n[pitch]\nlook = "Bright"\n', encoding="utf-8"
    )
    return first, other


@pytest.fixture(scope="module")
def made(sets: tuple[Path, Path]) -> tuple[Path, dict]:
    out = sets[0].with_name("client.pdf")
    told = CliRunner().invoke(
        cli.main, ["pitch", *map(str, sets), "-o", str(out), "--comparison", "--json", *QUICK], catch_exceptions=False
    )
    assert told.exit_code == 0, told.output
    return out, json.loads(told.output)


def test_a_title_a_page_a_look_and_the_looks_side_by_side(made: tuple[Path, dict]) -> None:
    out, told = made
    title, first, other, together = text_of(out.read_bytes())
    assert told["pages"] == 4
    for words in ("Three balls", "For Stones & Sons (demo)", "Studio North", "Look 1", "Plain", "Bright", "computed"):
        assert words in title
    assert "A ball, as it is." in first
    assert "Compared with" not in first
    assert "left head: more from the side, brighter" in other
    assert "picture: cropped differently, supports hidden" in other
    assert "Supports are left out of the picture, and their shadows with them." in " ".join(other.split())
    assert "Side by side" in together
    assert "Plain" in together
    assert "4 / 4" in together


def test_json_lists_file_pages_and_looks(made: tuple[Path, dict]) -> None:
    out, told = made
    assert (told["schema"], told["file"], told["paper"]) == ("throughlight/pitch/1", str(out), "a4")
    assert (told["watermark"], told["computed"]) == (True, True)
    first, other = told["looks"]
    assert (first["look"], first["sentence"], first["changes"]) == ("Plain", "A ball, as it is.", [])
    assert other["sentence"] is None
    assert other["changes"][0] == "left head: more from the side, brighter"
    assert other["finish"][0]["supports"] == "left out with their shadows"
    assert other["wide_pixels"] / other["high_pixels"] == pytest.approx(0.8, abs=0.03)
    assert min(first["dots_per_inch"], other["dots_per_inch"]) >= 10.0


def test_pictures_keep_their_pixels_their_profile_and_the_resolution_asked_for(made: tuple[Path, dict]) -> None:
    """ICC-based colour space: the profile is embedded. Width on the page, from the PDF, over pixels: dots an inch."""
    out, told = made
    with pdfium.PdfDocument(out.read_bytes()) as document:
        for page, said in zip((document[1], document[2]), told["looks"], strict=True):
            (picture,) = (part for part in page.get_objects() if part.type == raw.FPDF_PAGEOBJ_IMAGE)
            about = picture.get_metadata()
            assert about.colorspace == raw.FPDF_COLORSPACE_ICCBASED
            assert (about.width, about.height) == (said["wide_pixels"], said["high_pixels"])
            left, _, right, _ = picture.get_bounds()
            assert about.width / ((right - left) / 72.0) >= 10.0
            shown = np.asarray(picture.get_bitmap().to_pil().convert("RGB")).astype(int)
            with Image.open(said["picture_file"]) as kept:
                assert kept.info.get("Author") == ("Studio North" if said is told["looks"][0] else None)
                np.testing.assert_allclose(shown, np.asarray(kept).astype(int), atol=1)


def test_the_file_says_who_made_it_and_that_it_is_computed(made: tuple[Path, dict]) -> None:
    with pdfium.PdfDocument(made[0].read_bytes()) as document:
        told = document.get_metadata_dict()
    assert (told["Title"], told["Author"]) == ("Three balls", "Studio North")
    assert "Computed images, not photographs" in told["Subject"]
    assert "computed image" in told["Keywords"]


def test_no_lens_talk_unless_asked(made: tuple[Path, dict], tmp_path: Path) -> None:
    lens = re.compile(r"f/|ISO|\bmm\b|\b\d+ J\b|\d °|1/\d+ s|stop")
    assert [lens.findall(text) for text in text_of(made[0].read_bytes())] == [[]] * 4
    looks = (look(tmp_path, SET), look(tmp_path, OTHER.replace("f_number = 11", "f_number = 16")))
    content = sheet(looks, english(), Style(PAPERS["a4"], details=True)).pdf()
    pages = [" ".join(page.split()) for page in text_of(content)]
    assert "100 mm · f/11 · 1/160 s · ISO 100" in pages[1]
    assert "left head: 25 J, 2 stops under full" in pages[1]
    assert "1 stop brighter" in pages[2]
    assert "f/11 → f/16" in pages[2]


def test_the_watermark_stands_on_every_page_with_a_picture_or_nowhere(tmp_path: Path) -> None:
    looks = (look(tmp_path, SET), look(tmp_path, OTHER, ratio=0.7))
    for watermark in (True, False):
        style = Style(PAPERS["a4"], comparison=True, watermark=watermark)
        pages = text_of(sheet(looks, english(), style).pdf())
        assert [page.count("preview, computed") for page in pages] == ([1, 1, 1, 2] if watermark else [0] * 4)
        assert all("Computed images, not photographs" in page for page in pages)


LONG = "W" * 80
MARKUP = '#set page(fill: red) *b* $x$ [l] <a> @c `d` \\u{41} "q" // \U0001f600 end'
RIGHT_TO_LEFT = "\u0645\u0631\u062d\u0628\u0627"


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("ratio", [3.0, 1.5, 1.25, 0.5])
def test_the_longest_words_stay_on_the_paper(tmp_path: Path, paper: str, ratio: float) -> None:
    text = SET.replace("Ball on grey", LONG) + (
        f'[pitch]\ntitle = "{"W" * 120}"\nclient = "{"M" * 120}"\ncreator = "{"W" * 120}"\nlook = "{LONG}"\n'
        f'sentence = "{"W" * 300}"\n'
    )
    heads = "".join(
        f'[[flag]]\nname = "{number:02d}{"W" * 78}"\nat = ["{number} cm", "30 cm", "-20 cm"]\nwidth = "1 cm"\n'
        'height = "1 cm"\n'
        for number in range(12)
    )
    looks = (look(tmp_path, text, ratio=ratio), look(tmp_path, text + heads, ratio=ratio))
    content = sheet(looks, english(), Style(PAPERS[paper], comparison=True, details=True)).pdf()
    assert max(ink_in_margins(content, OUTER)) == 0
    with pdfium.PdfDocument(content) as document:
        assert len(document) == 4
        for page in document:  # between the text area and the foot nothing stands
            shown = np.asarray(page.render(scale=2.0).to_pil().convert("L"))
            points = page.get_height() - 72.0 / 25.4 * np.array([13.6, 11.8])
            low, high = (round(2.0 * place) for place in points)
            assert shown[low:high].min() == 255
    # 12 changes on 7 lines; under the picture on 5, since the camera and a head are told there too.
    assert f"and {6 if place_on(PAPERS[paper], ratio).beside else 8} more" in text_of(content)[2]


def test_what_people_write_comes_out_as_text(tmp_path: Path) -> None:
    text = SET + f"[pitch]\ntitle = '''{MARKUP}'''\nlook = '''{MARKUP}'''\nsentence = \"{RIGHT_TO_LEFT}\"\n"
    content = sheet((look(tmp_path, text),), english(), Style(PAPERS["a4"])).pdf()
    title, page = (" ".join(unicodedata.normalize("NFKC", one).split()) for one in text_of(content))
    assert MARKUP in title
    assert MARKUP in page
    assert RIGHT_TO_LEFT in page or RIGHT_TO_LEFT[::-1] in page
    assert max(ink_in_margins(content, OUTER)) == 0  # the page is not red


def test_a_denoised_picture_says_so(tmp_path: Path) -> None:
    plain = look(tmp_path, SET)
    quiet = replace(plain, picture=plain.picture._replace(made={"denoised": True}))
    pages = text_of(sheet((plain, quiet), english(), Style(PAPERS["a4"])).pdf())
    assert ["grain is taken out" in page for page in pages] == [False, False, True]


def test_dark_pages_are_dark(tmp_path: Path) -> None:
    content = sheet((look(tmp_path, SET),), english(), Style(PAPERS["a4"], "dark")).pdf()
    assert max(ink_in_margins(content, OUTER, ground=17)) <= 1


def test_the_words_of_a_file_take_the_place_of_the_english_ones(tmp_path: Path) -> None:
    looks = (look(tmp_path, SET), look(tmp_path, OTHER + "[finish]\nhide_supports = true\n"))
    pages = text_of(sheet(looks, words_from(GERMAN), Style(PAPERS["a4"], comparison=True)).pdf())
    assert "Entwurf 2" in pages[2]
    assert "left head: mehr von der Seite, heller" in pages[2]
    assert "Halterungen sind nicht im Bild, ihre Schatten auch nicht." in " ".join(pages[2].split())
    assert "picture" not in pages[2]
    assert "supports hidden" in pages[2]  # what the file leaves out stays English
    assert pages[3].count("Vorschau, berechnet") == 2
    assert "4 von 4" in pages[3]


def test_a_picture_is_placed_as_large_as_fits_and_never_beyond_the_margins() -> None:
    for paper in PAPERS.values():
        for ratio in (0.05, 0.8, 1.0, 1.24, 1.25, 1.5, 2.35, 20.0):
            place = place_on(paper, ratio)
            assert place.wide / place.high == pytest.approx(ratio)
            assert place.wide <= paper.wide - 2.0 * pitch_pictures.MARGIN + 1e-9
            assert place.high <= paper.high - pitch_pictures.TOP - pitch_pictures.FOOT


def test_looks_stand_in_one_row_unless_rows_make_them_much_larger() -> None:
    assert in_rows(PAPERS["a4"], [1.5, 1.5]).rows == [[0, 1]]
    assert in_rows(PAPERS["a4"], [1.5] * 4).rows == [[0, 1], [2, 3]]
    high, rows = in_rows(PAPERS["a4"], [1.5] * 24)
    assert sorted(number for row in rows for number in row) == list(range(24))
    assert high * 1.5 * len(rows[0]) < 261.0


def test_a_pitch_made_again_traces_nothing_and_another_set_is_traced(
    sets: tuple[Path, Path], made: tuple[Path, dict], monkeypatch: pytest.MonkeyPatch
) -> None:
    traced = []

    def shoot(setup: object, **how: object) -> object:
        traced.append(setup)
        raise ValueError("traced")

    monkeypatch.setattr("throughlight.sheets.shot.shoot", shoot)
    first = sets[0]
    said = first.read_text(encoding="utf-8")
    now = said.replace("as it is.", "as it may be.").replace("Studio North", "Studio South")
    first.write_text(now, encoding="utf-8")
    again = CliRunner().invoke(cli.main, ["pitch", *map(str, sets), "-o", str(made[0]), *QUICK])
    assert again.exit_code == 0, again.output
    assert again.output.count("kept from before") == 2
    assert not traced
    assert "as it may be." in text_of(made[0].read_bytes())[1]
    with Image.open(made[1]["looks"][0]["picture_file"]) as kept:
        assert kept.info["Author"] == "Studio South"
    first.write_text(said.replace('"100 lx"', '"101 lx"'), encoding="utf-8")
    changed = CliRunner().invoke(cli.main, ["pitch", *map(str, sets), "-o", str(made[0]), *QUICK])
    first.write_text(said, encoding="utf-8")
    assert (changed.exit_code, len(traced)) == (2, 1)


def test_ctrl_c_keeps_the_pictures_that_are_done_and_writes_no_half_file(
    sets: tuple[Path, Path], made: tuple[Path, dict], monkeypatch: pytest.MonkeyPatch
) -> None:
    def press(*args: object, **how: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr("throughlight.sheets.shot.shoot", press)
    out, before = made[0], made[0].read_bytes()
    third = sets[1].with_name("third.toml")
    third.write_text(SET.replace("-140 deg", "-90 deg"), encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["pitch", *map(str, sets), str(third), "-o", str(out), *QUICK])
    assert told.exit_code == 130
    assert f"2 of 3 pictures are kept in {out.with_suffix('.pictures')}" in told.output
    assert out.read_bytes() == before
    assert not [path for path in out.parent.iterdir() if ".part" in path.name]


@pytest.mark.parametrize(
    ("options", "found"),
    [
        (("-o", "client.doc"), "a name that ends in .pdf would fit"),
        (("-o", "no such folder/client.pdf"), "its folder is missing"),
        (("--words", "no such file.toml"), "the file cannot be read"),
        (("--dpi", "9"), "10<=x<=600"),
        (("--dpi", "600", "--samples", "8"), None),
    ],
)
def test_what_cannot_come_to_a_good_end_is_refused_before_anything_is_traced(
    sets: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    found: str | None,
) -> None:
    monkeypatch.setattr("throughlight.sheets.shot.shoot", lambda *args, **how: pytest.fail("traced"))
    monkeypatch.setattr(pitch_pictures, "MOST_PIXELS", 1000)
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(cli.main, ["pitch", str(sets[0]), *options])
    assert told.exit_code == 2, told.output
    assert ("fewer dots would fit" if found is None else found) in " ".join(told.output.split())
    assert not list(tmp_path.iterdir())


def test_mistakes_of_all_sets_are_said_at_once(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("a.toml", "b.toml")]
    files[0].write_text(SET + f'[pitch]\nlook = "{"x" * 300}"\n', encoding="utf-8")
    files[1].write_text(SET + '[pitch]\nsentense = "x"\n', encoding="utf-8")
    told = CliRunner().invoke(cli.main, ["pitch", *map(str, files)])
    assert told.exit_code == 2
    lines = told.output.strip().splitlines()
    assert len(lines) == 2
    assert "pitch.look" in lines[0]
    assert '"sentence" would fit' in lines[1]
