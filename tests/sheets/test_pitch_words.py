"""Files of words: what they may say, and the one sentence for what they may not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from throughlight.setup import SetupError
from throughlight.sheets.pitch_words import english, put, words_from


def test_a_file_may_say_little_and_the_rest_is_english(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text('preview = "aperçu, calculé"\n', encoding="utf-8")
    words = words_from(file)
    assert words["preview"] == "aperçu, calculé"
    assert words["added"] == english()["added"]
    assert words_from(None) == english()


def test_what_is_put_in_is_never_read_as_a_phrase() -> None:
    assert put(english(), "instead", now="{before}", before="{now}") == "{before} instead of {now}"


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ('# x\npreveiw = "x"\n', 2, '"preveiw" is no key of a file of words; "preview" would fit'),
        ("preview = 3\n", 1, 'found 3; a phrase of up to 200 signs would fit, such as "preview, computed"'),
        ('preview = ""\n', 1, "a phrase of up to 200 signs would fit"),
        (f'preview = "{"x" * 201}"\n', 1, "a phrase of up to 200 signs would fit"),
        ('look = "Look {nummer}"\n', 1, "found {nummer}, for which nothing is put in here; {number} would fit"),
        ('added = "{name} added"\n', 1, "found {name}, for which nothing is put in here; plain text would fit"),
        ('language = "Deutsch"\n', 1, 'found "Deutsch"; a language of two or three letters would fit, such as "de"'),
        ("preview = \n", 1, "this is not TOML"),
    ],
)
def test_a_mistake_is_one_sentence_at_its_line(tmp_path: Path, text: str, line: int, found: str) -> None:
    file = tmp_path / "words.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SetupError) as caught:
        words_from(file)
    (mistake,) = caught.value.mistakes
    assert mistake.line == line
    assert found in mistake.message


def test_every_phrase_that_the_pages_use_is_there() -> None:
    pages = Path(__file__).parents[2] / "engine" / "throughlight" / "sheets"
    used = set(re.findall(r"told\.words\.([a-z_]+)", (pages / "pages" / "pitch.typ").read_text(encoding="utf-8")))
    for file in ("pitch.py", "pitch_changes.py"):
        text = (pages / file).read_text(encoding="utf-8")
        used |= set(re.findall(r'(?:say|put|words)\w*[\[(](?:self\.words, |tell\.words, )?"([a-z_]+)"', text))
    assert used - {"now", "before"} <= set(english())
    assert len(used) > 20
