"""Results for a person to read, from what is kept; at any moment, also while a study runs."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from throughlight.study.batch import REPLICATES
from throughlight.study.cases import Case, Cases, cases_of
from throughlight.study.goals import missed
from throughlight.study.identity import changes, identity_of
from throughlight.study.light import joules
from throughlight.study.question import Study
from throughlight.study.ranking import RULE, Ranking, ranking
from throughlight.study.results import Figure, Goal, Made, Results, Row
from throughlight.study.results_file import store_path, trouble
from throughlight.study.space import Candidate
from throughlight.study.spread import left_out_of, loss_figure, moved
from throughlight.study.standing import Known, Standing, standing_of
from throughlight.study.store import Store


def results_now(study: Study, path: Path | None = None) -> Results:
    """Return the results of a study as they are kept now.

    Parameters
    ----------
    study
        What was asked.
    path
        The file of results; beside the study file by default.

    Raises
    ------
    SetupError
        When there are none yet, or the set or the study has changed since they were made.
    """
    where = store_path(study.path) if path is None else path
    with Store(where, None) as store:
        before = store.identity
        now = identity_of(study, before.seed)
        # An engine that has changed reads what an earlier one made; it only must not add to it.
        said = changes(before, now._replace(engine_version=before.engine_version, engine_hash=before.engine_hash))
        if said:
            ways = "undoing the change would show them; --fresh beside the running command begins anew"
            raise trouble(where, f"since these results were made, {' and '.join(said)}; {ways}")
        cases = cases_of(study)
        return results_of(study, cases, standing_of(store, cases, study.goals), store)


def results_of(study: Study, cases: Cases, standing: Standing, store: Store) -> Results:
    """Return the results of a study from what is known of its candidates."""
    losses, levels, _ = standing.tables()
    order = standing.order()
    ranked = ranking(losses, levels) if order else None
    row_of = {known.case.number: row for row, known in enumerate(order)}
    numbers = [known.case.number for known in order]
    rows = []
    # As long as one is not read, nobody can be told from it.
    if ranked is not None and any(case.number not in standing.known | standing.failed for case in cases.good):
        ranked = ranked._replace(settled=np.zeros(len(order), np.bool_))
    for candidate in cases.all:
        known = standing.known.get(candidate.number)
        if known is None or ranked is None:
            rows.append(_unread(candidate, standing))
        else:
            stands_for_itself = cases.traced[known.case.geometry].number == candidate.number
            rows.append(_row(known, row_of[candidate.number], ranked, numbers, study.goals, traced=stands_for_itself))
    spent, made = store.spent(), store.identity
    return Results(
        title=study.title,
        set_title=study.the_set.setup.title,
        goals=study.goals,
        rows=tuple(rows),
        made=Made(
            seed=made.seed,
            replicates=REPLICATES,
            paths=sum(row.paths for row in rows),
            tracing_seconds=spent.seconds,
            engine_version=made.engine_version,
            engine_hash=made.engine_hash,
            set_hash=made.set_hash,
            study_hash=made.study_hash,
            running=store.at_work(),
            started=spent.first,
            updated=spent.last,
            ends=store.noted("ends"),
            settling=RULE,
        ),
    )


def _changes(candidate: Candidate) -> tuple[dict[str, str], dict[str, float | None]]:
    said = {change.name: change.said for change in candidate.changes}
    return said, {change.name: change.value for change in candidate.changes}


def _unread(candidate: Candidate, standing: Standing) -> Row:
    said, values = _changes(candidate)
    reason = standing.failed.get(candidate.number)
    if reason is None:
        return Row(candidate.number, said, values, status="waiting")
    return Row(candidate.number, said, values, status="failed", reason=reason)


def _row(known: Known, row: int, ranked: Ranking, numbers: list[int], goals: tuple[Goal, ...], *, traced: bool) -> Row:
    case: Case = known.case
    said, values = _changes(case.candidate)
    costs = np.array([goal.weight for goal in goals])[:, None] * missed(moved(known.told), goals)
    left_out = {**known.told.left_out, "loss": left_out_of(known.losses)}
    return Row(
        number=case.number,
        changes=said,
        values=values,
        figures={name: Figure(*figure) for name, figure in known.told.figures.items()},
        loss=loss_figure(known.losses),
        rank=int(ranked.place[row]) + 1,
        settled=bool(ranked.settled[row]),
        tie_with=tuple(numbers[other] for other in ranked.ties[row]),
        energy_joules=joules(case.setup),
        paths=known.paths if traced else 0,
        costs=tuple(loss_figure(cost) for cost in costs),
        left_out={name: tuple(float(one) for one in left) for name, left in left_out.items()},
    )
