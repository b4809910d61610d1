"""Things that stand in one another: distances by hand."""

from __future__ import annotations

import numpy as np
import pytest
from setup_texts import SET, changed

import throughlight.setup as tls
from throughlight.setup.solids import Solid, circle, overlap, prism, rectangle, rod, surrounds

UPRIGHT = np.eye(3)


def box(at, size):
    return prism("box", ("subject",), at, UPRIGHT, rectangle(size[0], size[1]), size[2])


def ball(at, diameter):
    return Solid(
        "ball",
        ("subject",),
        np.array([at], float),
        np.zeros((0, 2), np.int64),
        np.zeros((0, 3)),
        diameter / 2,
    )


@pytest.mark.parametrize(
    ("a", "b", "depth"),
    [
        (box((0, 0, 0), (2, 2, 2)), box((1.5, 0, 0), (2, 2, 2)), 0.5),
        (box((0, 0, 0), (2, 2, 2)), box((3, 0, 0), (2, 2, 2)), -1.0),
        (ball((0, 0, 0), 2), ball((0, 1.5, 0), 2), 0.5),
        (ball((0, 0, 0), 2), ball((0, 0, 3), 2), -1.0),
        # a ball over a corner of a box: the corner is at √3 from the middle
        (box((0, 0, 0), (2, 2, 2)), ball((2, 2, 2), 2), 1.0 - np.sqrt(3.0)),
        # over an edge, √2 away
        (box((0, 0, 0), (2, 2, 2)), ball((2, 2, 0), 2), 1.0 - np.sqrt(2.0)),
        # two rods that cross at right angles, 0.3 apart
        (
            rod("a", (), np.array([-1.0, 0, 0]), np.array([1.0, 0, 0]), 0.4),
            rod("b", (), np.array([0, -1.0, 0.3]), np.array([0, 1.0, 0.3]), 0.4),
            0.1,
        ),
        # a rod that ends 0.2 before a wall
        (box((0, 0, 0), (2, 2, 2)), rod("b", (), np.array([0, 0, 1.3]), np.array([0, 0, 3.0]), 0.2), -0.2),
    ],
)
def test_how_far_two_bodies_stand_in_one_another(a, b, depth):
    assert overlap(a, b) == pytest.approx(depth, abs=1e-9)
    assert overlap(b, a) == pytest.approx(depth, abs=1e-9)


def test_two_cards_that_cross():
    a = prism("a", (), (0, 0, 0), UPRIGHT, rectangle(2, 2), 0.0)
    b = prism("b", (), (0.8, 0, 0), UPRIGHT[:, [2, 1, 0]], rectangle(2, 2), 0.0)
    assert overlap(a, b) == pytest.approx(0.2)
    assert overlap(a, prism("b", (), (1.1, 0, 0), UPRIGHT[:, [2, 1, 0]], rectangle(2, 2), 0.0)) == pytest.approx(-0.1)


def test_a_turned_body_is_the_same_body():
    turn, _ = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))
    turn *= np.sign(np.linalg.det(turn))
    a = prism("a", (), (0, 0, 0), turn, circle(2.0), 1.0)
    b = prism("b", (), tuple(turn @ np.array([0, 0, 0.8])), turn, circle(1.0), 1.0)
    assert overlap(a, b) == pytest.approx(0.2)


def test_inside_and_outside():
    assert surrounds(box((0, 0, 0), (2, 2, 2)), (0.9, 0.9, 0.9))
    assert not surrounds(box((0, 0, 0), (2, 2, 2)), (1.1, 0, 0))
    assert surrounds(ball((0, 0, 0), 2), (0.5, 0.5, 0.5))
    assert not surrounds(ball((0, 0, 0), 2), (0.6, 0.6, 0.6))


def test_a_wire_that_only_holds_the_slice_is_no_doubt():
    assert tls.setup_warnings(tls.loads(SET)) == []


def test_a_wire_through_the_slice():
    warnings = tls.setup_warnings(
        tls.loads(changed('from = ["0 mm", "40 mm", "0 mm"]', 'from = ["0 mm", "20 mm", "0 mm"]'))
    )
    assert len(warnings) == 1
    assert warnings[0].startswith('the support "wire" runs through the subject "slice"')


def test_a_flag_in_the_backdrop():
    text = changed(
        'at = ["-25 cm", "0 cm", "-8 cm"]',
        'at = ["-25 cm", "0 cm", "-88 cm"]\naim = ["0 cm", "0 cm", "-88 cm"]',
    )
    assert tls.setup_warnings(tls.loads(text)) == [
        'the flag "flag 1" and the backdrop stand in one another; one must move by 55 mm to come free'
    ]


def test_a_head_through_a_table():
    text = SET + '\n[table]\nheight = "3 cm"\nwidth = "2 m"\ndepth = "2 m"\nsurface = "wood"\n'
    said = " ".join(tls.setup_warnings(tls.loads(text)))
    assert 'the head "left head" and the table stand in one another' in said
    assert 'the table and the subject "slice" stand in one another' in said
