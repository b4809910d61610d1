"""JSON and CSV of a study, read back as other programs do."""

from __future__ import annotations

import csv
import io
import json
import math

import pytest
from results_by_hand import exact, results, row, table_top

from throughlight.study.export import SCHEMA, results_csv, results_json
from throughlight.study.results import Figure


def test_json_is_plain_and_names_its_schema():
    found = table_top(waiting=2)
    told = json.loads(json.dumps(results_json(found), allow_nan=False))  # refuses what is no JSON
    assert told["schema"] == SCHEMA == "throughlight/study/1"
    assert len(told["candidates"]) == 240
    assert told["made"]["candidates_waiting"] == 2
    first = next(one for one in told["candidates"] if one["rank"] == 1)
    best = found.ranked[0]
    assert first["number"] == best.number
    assert first["subject_over_mid_grey"]["stops"] == pytest.approx(best.figures["subject"].value, rel=1e-6)
    assert first["stray_light"]["high_lx_s"] == pytest.approx(best.figures["stray_light"].high, rel=1e-6)
    assert first["energy"]["joules"] == best.energy_joules
    assert first["values_si"]["bearing"] == pytest.approx(best.values["bearing"])
    assert len(first["loss_by_goal"]) == len(told["goals"])
    failed = next(one for one in told["candidates"] if one["status"] == "failed")
    assert failed["reason"] == "the left head stands inside card 2"


def test_json_of_open_ends_is_null():
    dark = row(1, {"a": "in"}, 1.0, figures={"backdrop": Figure(-math.inf, -math.inf, -11.5)})
    (told,) = results_json(results([dark]))["candidates"]
    assert told["backdrop_over_mid_grey"] == {"stops": None, "low_stops": None, "high_stops": -11.5}


def test_json_front_and_effects_name_candidates_and_keys():
    told = results_json(table_top())
    front = told["pareto_front"]
    assert front["counts"] == ["subject", "backdrop", "stray_light", "energy"]
    assert set(front["not_beaten_as_figures_stand"]) <= set(front["not_beaten_at_95_percent"])
    loss = next(one for one in told["main_effects"] if one["reading"] == "loss")
    assert {key["key"] for key in loss["keys"]} == {"bearing", "distance", "flag"}


def test_csv_has_a_line_for_each_candidate_best_first():
    found = table_top(waiting=2)
    lines = list(csv.DictReader(io.StringIO(results_csv(found))))
    assert len(lines) == 240
    assert [int(line["number"]) for line in lines[:3]] == [one.number for one in found.ranked[:3]]
    assert float(lines[0]["subject_over_mid_grey_stops"]) == pytest.approx(
        found.ranked[0].figures["subject"].value, 1e-5
    )
    assert lines[0]["bearing (deg)"].isdigit()
    assert lines[0]["flag"] in ("in", "out")
    assert lines[-1]["status"] == "waiting"
    assert lines[-1]["loss_stops"] == ""


def test_csv_holds_no_formulas_but_numbers_stay_numbers():
    """Spreadsheets run a cell that begins so (OWASP, "CSV injection"); an apostrophe makes it text."""
    nasty = row(1, {"=HYPERLINK(1)": "@SUM(A1)", "bearing": "-140 deg"}, exact(1.0))
    head, line = csv.reader(io.StringIO(results_csv(results([nasty]))))
    assert "'=HYPERLINK(1)" in head
    assert "'@SUM(A1)" in line
    assert line[head.index("bearing (deg)")] == "-140"
