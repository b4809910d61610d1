"""Several subjects in one set: names, places of mistakes, and what may stand in what."""

from __future__ import annotations

import tomllib

import jsonschema
import pytest
import trimesh
from setup_texts import SET, line_of

import throughlight.setup as tls
from throughlight.setup.mistakes import SetupError

BEFORE = SET[: SET.index("[subject]")]
BOWL = (
    'shape = { kind = "revolve", smooth = true, wall = "4 mm", '
    'profile = [["2 cm", "0 cm"], ["5 cm", "3 cm"], ["6 cm", "6 cm"]] }'
)


def subjects(*tables: str) -> str:
    return BEFORE + "".join(f'\n[[subject]]\nmaterial = "agate"\n{table}\n' for table in tables)


def ball(diameter: str, at: str, more: str = "") -> str:
    return f'shape = {{ kind = "sphere", diameter = "{diameter}" }}\nat = {at}\n{more}'


FAR = '["20 cm", "0 cm", "0 cm"]'


def test_one_table_and_a_list_of_one_are_the_same():
    table = '\nmaterial = "agate"\nshape = { kind = "sphere", diameter = "2 cm" }\n'
    one, listed = (tls.loads(f"{BEFORE}{head}{table}") for head in ("[subject]", "[[subject]]"))
    assert one == listed
    assert one.subject is one.subjects[0]
    assert one.subject.name == "subject"
    assert one.subject.counts


def test_no_subject_at_all():
    setup = tls.loads(BEFORE)
    assert (setup.subject, setup.subjects) == (None, ())


def test_several_are_numbered():
    setup = tls.loads(
        subjects(ball("2 cm", FAR), ball("3 cm", '["0 cm", "0 cm", "0 cm"]', 'name = "stone"\ncounts = false'))
    )
    assert [(one.name, one.counts) for one in setup.subjects] == [("subject 1", True), ("stone", False)]


def test_a_name_used_twice():
    text = subjects(ball("2 cm", FAR, 'name = "left head"'))
    with pytest.raises(SetupError) as caught:
        tls.loads(text)
    (mistake,) = caught.value.mistakes
    assert mistake.key == "subject[1].name"
    assert mistake.line == line_of(text, "[[subject]]") + 4
    assert "a second time (first in head[1])" in mistake.message


def test_a_name_used_twice_by_the_single_table():
    text = (
        f'{BEFORE}[subject]\nname = "left head"\nmaterial = "agate"\nshape = {{ kind = "sphere", diameter = "2 cm" }}\n'
    )
    with pytest.raises(SetupError) as caught:
        tls.loads(text)
    (mistake,) = caught.value.mistakes
    assert (mistake.key, mistake.line) == ("subject.name", line_of(text, "[subject]") + 1)


def test_mistakes_point_into_the_right_table():
    text = subjects(ball("2 cm", FAR), ball("3 kg", FAR, 'colour = "red"'), "")
    with pytest.raises(SetupError) as caught:
        tls.loads(text)
    assert [mistake.key for mistake in caught.value.mistakes] == [
        "subject[2].shape.diameter",
        "subject[2].colour",
        "subject[3].shape",
    ]
    wrong, unknown, missing = caught.value.mistakes
    assert wrong.line == line_of(text, "3 kg")
    assert unknown.line == line_of(text, "colour")
    assert missing.line == text[: text.rindex("[[subject]]")].count("\n") + 1


def test_a_mistake_between_good_tables_is_found_beside_a_faulty_subject():
    """A subject that is wrong in itself does not hide that the camera stands in another one."""
    text = subjects(ball("3 kg", FAR), ball("4 cm", '["0 cm", "0 cm", "60 cm"]'))
    with pytest.raises(SetupError) as caught:
        tls.loads(text)
    assert {mistake.key for mistake in caught.value.mistakes} == {"subject[1].shape.diameter", "camera.at"}


@pytest.mark.parametrize("value", ["3", '"slice"', "true"])
def test_no_table_at_all(value):
    with pytest.raises(SetupError) as caught:
        tls.loads(f"subject = {value}\n" + BEFORE)
    (mistake,) = caught.value.mistakes
    assert (mistake.key, mistake.line) == ("subject", 1)
    assert mistake.message.endswith("a table would fit")


def test_the_schema_takes_one_and_several():
    validator = jsonschema.Draft202012Validator(tls.schema())
    for text in (SET, subjects(ball("2 cm", FAR), BOWL)):
        validator.validate(tomllib.loads(text))


def warnings(*tables: str, folder=None) -> list[str]:
    return tls.setup_warnings(tls.loads(subjects(*tables), folder=folder))


def test_subjects_that_cut_into_one_another():
    (said,) = warnings(ball("4 cm", FAR), ball("4 cm", '["23 cm", "0 cm", "0 cm"]'))
    assert said == (
        'the subject "subject 1" and the subject "subject 2" stand in one another; one must move by 10 mm to come free'
    )


def test_one_wholly_within_another_is_meant():
    assert warnings(ball("4 cm", FAR), ball("1 cm", '["20.5 cm", "0 cm", "0 cm"]')) == []
    outline = 'outline = { shape = "rectangle", width = "8 cm", height = "8 cm" }'
    slab = f'shape = {{ kind = "slab", thickness = "3 cm", {outline} }}'
    assert warnings(f'{slab}\naim = ["0 cm", "0 cm", "1 m"]', ball("2 cm", '["2 cm", "0 cm", "0 cm"]')) == []


def test_what_lies_in_a_bowl_is_meant_and_what_cuts_its_wall_is_not():
    assert warnings(BOWL, ball("3 cm", '["0 cm", "2.2 cm", "0 cm"]')) == []
    (said,) = warnings(BOWL, ball("3 cm", '["4 cm", "3 cm", "0 cm"]'))
    assert "stand in one another" in said
    (said,) = warnings(BOWL, ball("3 cm", '["0 cm", "1 cm", "0 cm"]'))  # through its bottom
    assert "stand in one another" in said


def test_a_mesh_within_a_bowl(tmp_path):
    trimesh.creation.icosphere(subdivisions=3, radius=1.0).export(tmp_path / "pea.ply")
    pea = 'shape = { kind = "mesh", file = "pea.ply", unit = "cm" }\nat = ["0 cm", "HEIGHT", "0 cm"]'
    assert warnings(BOWL, pea.replace("HEIGHT", "1.7 cm"), folder=tmp_path) == []
    assert len(warnings(BOWL, pea.replace("HEIGHT", "0.5 cm"), folder=tmp_path)) == 1


def test_props_and_supports_are_tried_against_each_subject():
    text = subjects(ball("2 cm", FAR), BOWL) + (
        '\n[[support]]\nname = "rod"\ndiameter = "4 mm"\n'
        'from = ["20 cm", "-30 cm", "0 cm"]\nto = ["20 cm", "30 cm", "0 cm"]\n'
    )
    (said,) = tls.setup_warnings(tls.loads(text))
    assert said.startswith('the support "rod" runs through the subject "subject 1"')
