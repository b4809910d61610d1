"""Mistakes in study files: each one sentence with file, line, key, what was found, what would fit; all at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_texts import HEAD, SET, mistakes_of, refused, vary, write

from throughlight.setup import SetupError
from throughlight.study.file import load_study

GOOD = vary("head.1.at.bearing", 'values = ["-130 deg"]')
BEARING = vary("head.1.at.bearing", name="bearing")

CASES = [
    # table, key at which it is said, words
    (vary('head."left hed".at.bearing', 'values = ["1 deg"]'), "vary[1].key", '"left head" would fit'),
    (vary('head."left head".at.baering', 'values = ["1 deg"]'), "vary[1].key", '"bearing" would fit'),
    (vary("hed.1.at.bearing", 'values = ["1 deg"]'), "vary[1].key", '"hed" is no key of this table; "head" would fit'),
    (vary("head.1.enrgy", 'values = ["1 J"]'), "vary[1].key", '"energy" would fit'),
    (vary("head.3.energy", 'values = ["1 J"]'), "vary[1].key", "a number from 1 to 2 would fit"),
    (vary("head[3].energy", 'values = ["1 J"]'), "vary[1].key", "a number from 1 to 2 would fit"),
    (vary("head..energy", 'values = ["1 J"]'), "vary[1].key", "parts joined by dots would fit"),
    (vary("backdrop.cloth.reflectance", "values = [0.1]"), "vary[1].key", 'backdrop.cloth = "black velvet"'),
    (vary("window.1.luminance", "values = [1]"), "vary[1].key", "the set doesn't write window"),
    (vary("head.1.snoot.length", 'values = ["10 cm"]'), "vary[1].key", "the set doesn't write head[1].snoot"),
    (vary("camera.at.bearing", 'values = ["1 deg"]'), "vary[1].key", "a number from 1 to 3 would fit"),
    (vary("seed", "values = [1]"), "vary[1].key", "changes no light"),
    (vary("head.1.name", 'values = ["x"]'), "vary[1].key", "changes no light"),
    (vary("camera.present"), "vary[1].key", "has to have its camera"),
    (vary("head.1.at.bearing", 'values = ["10 cm"]'), "vary[1].values[1]", "an angle from"),
    (vary("head.1.at.distance", "values = [40]"), "vary[1].values[1]", "a unit is missing"),
    (vary("head.1.energy", 'values = ["100 J", "-5 J"]'), "vary[1].values[2]", "an energy above zero would fit"),
    (vary("backdrop.cloth", 'values = ["blck velvet"]'), "vary[1].values[1]", 'the kit has "black velvet"'),
    (vary("head.1.at", 'values = [["1 m", "2 m"]]'), "vary[1].values[1]", "a place would fit"),
    (
        vary("head.1.at.bearing", 'from = "1 cm"\nto = "9 cm"\ncount = 3'),
        "vary[1].from",
        '"cm" is not a unit of an angle',
    ),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "15 in"\ncount = 3'), "vary[1].to", "the same unit would fit"),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "40 cm"\ncount = 3'), "vary[1].to", "two different ends"),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "80 cm"\nstep = "1 deg"'), "vary[1].step", "a step of up to"),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "80 cm"\nstep = "0 cm"'), "vary[1].step", "a step of up to"),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "80 cm"\ncount = 1'), "vary[1].count", "from 2 to"),
    (vary("head.1.at.distance", 'from = "40 cm"\nto = "80 cm"'), "vary[1].from", 'how = "sample"'),
    (vary("head.1.at.distance", 'from = "near"\nto = "80 cm"\ncount = 2'), "vary[1].from", "a number with its unit"),
    (vary("head.1.at.distance", 'from = "40 cm"'), "vary[1]", "both from and to would fit"),
    (vary("head.1.at.distance", "count = 3"), "vary[1]", "from and to beside it would fit"),
    (vary("head.1.at.distance"), "vary[1]", "which values it takes"),
    (vary("head.1.at.distance", "values = []"), "vary[1].values", "the list is empty"),
    (vary("flag.1.present", 'values = ["maybe"]'), "vary[1].values[1]", "true or false"),
    (vary("flag.1.present", 'from = "in"\nto = "out"'), "vary[1].from", "in or out"),
    ('[[vary]]\nvalues = ["1 J"]\n', "vary[1]", "nothing is named that varies"),
    ('[[vary]]\nkeys = []\nvalues = ["1 J"]\n', "vary[1].keys", "the list is empty"),
    (
        '[[vary]]\nkeys = ["head.1.energy", "head.2.energy"]\nvalues = [["1 J"]]\n',
        "vary[1].values[1]",
        "one value for all, or a list of one each",
    ),
    (GOOD + vary('head."left head".at.bearing', 'values = ["1 deg"]'), "vary[2].key", "varies already in vary[1].key"),
    (GOOD + vary("head.1.at", 'values = [["1 m", "0 m", "0 m"]]'), "vary[2].key", "varies already in vary[1].key"),
    (GOOD + '[explore]\nhow = "gird"\n', "explore.how", '"grid", "sample" or "listed" would fit'),
    (GOOD + '[explore]\nhow = "sample"\n', "explore.how", "count beside it would fit"),
    (GOOD + '[explore]\nhow = "sample"\ncount = 5\n', "explore.count", "a sample of 5 out of 1 combinations"),
    (GOOD + "[explore]\ncount = 5\n", "explore", 'how = "sample" beside it'),
    (GOOD + '[explore]\nhow = "listed"\n', "vary[1].values", "listed by hand"),
    (BEARING + '[[candidate]]\nbering = "1 deg"\n', "candidate[1].bering", '"bearing" would fit'),
    (BEARING + '[[candidate]]\nbearing = "1 cm"\n', "candidate[1].bearing", "an angle from"),
    (GOOD + '[explore]\nhow = "grid"\n[[candidate]]\nx = 1\n', "candidate", '"listed" would fit'),
    (GOOD + '[[wanted]]\nreading = "subjct"\nat = "1 stop"\n', "wanted[1].reading", '"subject" would fit'),
    (GOOD + '[[wanted]]\nreading = "rmi"\nat = "1 stop"\n', "wanted[1].reading", '"rim" would fit'),
    (GOOD + '[[wanted]]\nreading = "subject"\nat = "1 cm"\n', "wanted[1].at", "a number of stops"),
    (GOOD + '[[wanted]]\nreading = "energy"\nat_most = "1 stop"\n', "wanted[1].at_most", "an energy above zero"),
    (GOOD + '[[wanted]]\nreading = "subject"\n', "wanted[1]", "exactly one of at"),
    (GOOD + '[[wanted]]\nreading = "veil"\nat_most = "1 stop"\nwithin = "1 stop"\n', "wanted[1]", "goes with at alone"),
    (
        GOOD + '[[wanted]]\nreading = "veil"\nat_most = "1 stop"\nweight = -1\n',
        "wanted[1].weight",
        "a weight, zero or more",
    ),
    (GOOD + '[budget]\nuntil = "25:00"\n', "budget.until", 'such as "06:30"'),
    (GOOD + "[budget]\ntime_limit = 8\n", "budget.time_limit", 'such as "8 h"'),
    (GOOD + '[budget]\ntolerance = "0 stop"\n', "budget.tolerance", "a number of stops above zero"),
    (GOOD + '[bugdet]\nuntil = "06:30"\n', "bugdet", '"budget" would fit'),
    ('vary = "x"\n', "vary", "[[vary]] would fit"),
    ("vary = []\n", "vary", "[[vary]] would fit"),
]


@pytest.mark.parametrize(("text", "key", "words"), CASES)
def test_a_mistake_is_one_sentence_at_its_place(tmp_path: Path, text: str, key: str, words: str) -> None:
    mistakes = mistakes_of(tmp_path, text)
    mistake = mistakes[0]
    assert len(mistakes) == 1 + ("is not a unit" in words or "listed by hand" in words)
    assert mistake.file == str(tmp_path / "study.toml")
    assert mistake.key == key
    assert words in mistake.message
    last = re.split(r"[.\[]", key.rstrip("0123456789]["))[-1]
    line = (HEAD + text).splitlines()[mistake.line - 1]
    assert last in line or line.startswith("[[")


def test_all_mistakes_are_told_at_once_the_sets_own_after_them(tmp_path: Path) -> None:
    text = vary("head.1.at.baering", 'values = ["1 deg"]') + '[[wanted]]\nreading = "veil"\n[budget]\nuntil = "x"\n'
    mistakes = mistakes_of(tmp_path, text, setup=SET.replace("focal =", "focl ="))
    assert [mistake.key for mistake in mistakes[:3]] == ["vary[1].key", "wanted[1]", "budget.until"]
    assert {mistake.file for mistake in mistakes[3:]} == {str(tmp_path / "set.toml")}
    assert "camera.focl" in {mistake.key for mistake in mistakes[3:]}


def test_a_set_that_is_not_there(tmp_path: Path) -> None:
    (mistake,) = mistakes_of(tmp_path, GOOD, head='set = "sett.toml"\n')
    assert (mistake.key, mistake.line) == ("set", 1)
    assert "a setup file beside the study would fit" in mistake.message


def test_nothing_wanted_anywhere(tmp_path: Path) -> None:
    begin, end = SET.index("[wanted]"), SET.index("[[spot]]")
    (mistake,) = mistakes_of(tmp_path, GOOD, setup=SET[:begin] + SET[end:])
    assert "nothing is wanted, here or in the set" in mistake.message


def test_a_reading_that_the_set_does_not_have(tmp_path: Path) -> None:
    wish = '[[wanted]]\nreading = "backdrop"\nat_most = "-6 stop"\n'
    begin, end = SET.index("[backdrop]"), SET.index("[subject]")
    (mistake,) = mistakes_of(tmp_path, GOOD, wish, setup=SET[:begin] + SET[end:])
    assert "the set has no backdrop" in mistake.message
    meter = SET.replace('energy = "200 J"', 'meter = "f/11 at 1 m, ISO 100"')
    (mistake,) = mistakes_of(tmp_path, GOOD, '[[wanted]]\nreading = "energy"\nat_most = "99 J"\n', setup=meter)
    assert "head 2 is not given by its energy" in mistake.message


def test_a_grid_too_large_says_how_large(tmp_path: Path) -> None:
    keys = ("head.1.at.distance", "head.2.at.distance", "flag.1.width")
    text = "".join(vary(key, 'from = "10 cm"\nto = "90 cm"\ncount = 80') for key in keys)
    (mistake,) = mistakes_of(tmp_path, text)
    assert "512000 candidates; up to 20000" in mistake.message


def test_a_file_that_is_no_toml(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="this is not TOML"):
        load_study(write(tmp_path, "set = "))
    with pytest.raises(SetupError, match="a study file \\(TOML\\) would fit"):
        load_study(tmp_path / "nothing.toml")


_WORDS = (
    "set vary key keys values from to step count how candidate wanted reading at at_most within explore budget until "
    "name present head 1 x"
)
WORDS = st.sampled_from(_WORDS.split())
VALUES = st.recursive(
    st.none().map(lambda _: "true")
    | st.sampled_from(['"set.toml"', '"grid"', '"sample"', '"listed"', '"head.1.at.bearing"', '"flag.1.present"'])
    | st.sampled_from(['"-130 deg"', '"10 cm"', "3", "-1", "0.5", "nan", "1e400", "06:30:00", '""', '"\\u0000"', '"é"'])
    | st.sampled_from(['"subject"', '"+1 stop"', '"head.\\"left head\\".energy"', "2020-01-01"]),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda many: f"[{', '.join(many)}]")
        | st.dictionaries(WORDS, inner, max_size=3).map(
            lambda many: "{" + ", ".join(f"{key} = {value}" for key, value in many.items()) + "}"
        )
    ),
    max_leaves=5,
)
LINES = st.tuples(WORDS, VALUES).map(lambda pair: f"{pair[0]} = {pair[1]}") | WORDS.flatmap(
    lambda word: st.sampled_from([f"[{word}]", f"[[{word}]]"])
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(LINES, max_size=12), begins_well=st.booleans())
def test_no_file_ends_in_anything_but_sentences(tmp_path: Path, lines: list[str], begins_well: bool) -> None:
    text = (HEAD if begins_well else "") + "\n".join(lines)
    assert all("\n" not in str(mistake) for mistake in refused(write(tmp_path, text)))


WHOLE = (
    HEAD
    + vary("head.1.at.bearing", 'from = "-140 deg"\nto = "-100 deg"\nstep = "20 deg"', name="bearing")
    + vary("flag.1.present", "values = [true, false]")
    + '[[vary]]\nkeys = ["head.1.energy", "head.2.energy"]\nvalues = ["100 J", ["50 J", "20 J"]]\n'
    + '[explore]\nhow = "sample"\ncount = 9\nmay_overlap = true\n[[wanted]]\nreading = "subject"\nat = "+1 stop"\n'
    + 'within = "0.2 stop"\nweight = 2\n[budget]\nuntil = "06:30"\n'
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(line=st.integers(0, WHOLE.count("\n") - 1), value=VALUES)
def test_no_value_anywhere_ends_in_anything_but_sentences(tmp_path: Path, line: int, value: str) -> None:
    lines = WHOLE.splitlines()
    if "=" in lines[line]:
        lines[line] = f"{lines[line].split('=')[0]} = {value}"
    else:
        del lines[line]
    assert all("\n" not in str(mistake) for mistake in refused(write(tmp_path, "\n".join(lines))))
