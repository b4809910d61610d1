"""What changes between two looks, in trade words, for each kind of thing."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from pitch_looks import SET

import throughlight as tl
from throughlight.sheets.pitch_changes import changes
from throughlight.sheets.pitch_words import english


def _changes(*swaps: tuple[str, str], more: str = "", details: bool = False) -> list[str]:
    other = SET
    for old, new in swaps:
        assert old in other, old
        other = other.replace(old, new)
    return changes(tl.loads(SET), tl.loads(other + more), english(), details=details)


HEAD_AT = '{ bearing = "-140 deg", distance = "50 cm", height = "5 cm" }'


@pytest.mark.parametrize(
    ("swaps", "more", "told"),
    [
        ((), "", []),
        ((("Ball on grey", "Another title"),), "", []),
        (((HEAD_AT, HEAD_AT.replace("-140", "-165")),), "", ["left head: more from behind"]),
        (((HEAD_AT, HEAD_AT.replace("-140", "-100")),), "", ["left head: more from the side"]),
        (((HEAD_AT, HEAD_AT.replace("-140", "-40")),), "", ["left head: more from the front"]),
        (((HEAD_AT, HEAD_AT.replace("-140", "140")),), "", ["left head: on the other side"]),
        (((HEAD_AT, HEAD_AT.replace("50 cm", "40 cm").replace('"5 cm', '"25 cm')),), "", ["left head: nearer, higher"]),
        ((('stops = "-2 stop"', 'stops = "-3 stop"'),), "", ["left head: darker"]),
        ((('"softbox 60x90"', '"bowl 18 cm"'),), "", None),
        ((('energy = "100 J"', 'energy = "100 J"\ngrid = "30 deg"'),), "", None),
        ((('name = "white card"', 'name = "silver card"'),), "", ["white card: taken away", "silver card: added"]),
        ((('["20 cm", "0 cm", "0 cm"]', '["30 cm", "0 cm", "0 cm"]'),), "", ["white card: farther away"]),
        ((('"grey paper"', '"black velvet"'),), "", ["backdrop: black velvet instead of grey paper"]),
        ((("reflectance = 0.5", "reflectance = 0.8"),), "", ["ball: another material"]),
        ((('diameter = "60 mm"', 'diameter = "50 mm"'),), "", ["ball: another shape"]),
        ((('"100 lx"', '"400 lx"'),), "", ["light of the room: brighter"]),
        ((("f_number = 11", "f_number = 8"),), "", ["camera: less of the depth is sharp, brighter"]),
        ((('focal = "100 mm"', 'focal = "60 mm"'),), "", ["camera: framed wider"]),
        ((), '[finish]\nexposure = "-1 stop"\nsaturation = "80 %"\n', ["picture: darker, paler colours"]),
        ((), '[finish]\nblack_point = "-6 stop"\nstraighten = "3 deg"\n', ["picture: deeper blacks, turned"]),
        ((), '[table]\nheight = "-4 cm"\nwidth = "1 m"\ndepth = "1 m"\nsurface = "grey card"\n', ["table: added"]),
    ],
)
def test_a_change_is_told_in_trade_words(swaps: tuple, more: str, told: list[str] | None) -> None:
    found = _changes(*swaps, more=more)
    if told is None:
        (line,) = found
        assert line.startswith(("left head: bowl 18 cm instead of softbox 60x90", "left head: narrower beam"))
    else:
        assert found == told


def test_shadows_of_supports_that_come_and_go_are_told() -> None:
    hidden, kept = "[finish]\nhide_supports = true\n", "support_shadows = true\n"
    sets = [tl.loads(SET + hidden + more) for more in ("", kept)]
    assert changes(sets[0], sets[1], english()) == ["picture: supports' shadows shown"]
    assert changes(sets[1], sets[0], english()) == ["picture: supports' shadows hidden"]


def test_with_details_amounts_are_told() -> None:
    (head,) = _changes((HEAD_AT, HEAD_AT.replace("-140", "-110").replace("50 cm", "40 cm")), details=True)
    assert head == "left head: more from the side (−140° → −110°), 100 mm nearer"
    (camera,) = _changes(("iso = 100", "iso = 200"), details=True)
    assert camera == "camera: ISO 100 → ISO 200"


def test_the_same_mesh_in_another_folder_is_the_same_shape(tmp_path: Path) -> None:
    source = Path(__file__).parents[2] / "scenes" / "agate"
    setups = []
    for name in ("a", "b"):
        shutil.copytree(source, tmp_path / name)
        setups.append(tl.load(tmp_path / name / "set.toml"))
    assert changes(setups[0], setups[1], english()) == []
