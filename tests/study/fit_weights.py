"""Fits the weights of marking to the open labelled answers, and prints them.

People write few long answers that are wrong. So that length alone makes nothing right, cues
that serve other situations and other skills join in as answers that are not it.

python -m tests.study.fit_weights
"""

from __future__ import annotations

from dataclasses import astuple
from random import Random

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import RepeatedStratifiedKFold, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from coachbot.advice import Coach
from coachbot.case import Case
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.study.drawing import warns
from coachbot.study.marking import Marker
from coachbot.study.telling import tell
from coachbot.study.weighing import Verdict

from . import labelled

UNRELATED = 3


def unrelated(coach: Coach, case: Case, count: int, seed: int) -> list[str]:
    """Cues that have nothing to do with a case, from its advised situations and skills."""
    rules = coach.book.rules
    advised = [rules[s.rule] for s in coach.advise(case, ask=False)[0].suggestions]
    situations = {s for r in advised for s in r.rule.serves}
    skills = {s for r in advised if r.rule.suggest for s in r.rule.suggest.skills}
    others = [
        r.rule.suggest.now
        for r in rules.values()
        if r.rule.suggest
        and not (warns(r) or situations & set(r.rule.serves))
        and not skills & set(r.rule.suggest.skills)
    ]
    return Random(seed).sample(others, k=count)


def measured(coach: Coach, marker: Marker) -> tuple[np.ndarray, np.ndarray]:
    """Measures and labels of the open answers in which safety does not decide."""
    book = coach.book
    assert book.study is not None
    rows, labels = [], []
    cases: set[str] = set()
    for number, given in enumerate(labelled.read(book, labelled.FOLDER / "open")):
        if given.label is Verdict.UNSAFE or coach.advise(given.case, ask=False)[0].stop:
            continue
        told = tell(book, book.study, given.case.known, number, messy=False)
        rows.append(astuple(marker.measures(given.case, told, given.answer)))
        labels.append(given.label.value)
        if str(given.case) not in cases:
            cases.add(str(given.case))
            for cue in unrelated(coach, given.case, UNRELATED, number):
                rows.append(astuple(marker.measures(given.case, told, cue)))
                labels.append(Verdict.WRONG.value)
    return np.array(rows), np.array(labels)


def fitted(rows: np.ndarray, labels: np.ndarray) -> dict[str, tuple[float, tuple[float, ...]]]:
    """Constant and weights by mark, for measures as they are."""
    scale = StandardScaler().fit(rows)
    model = LogisticRegression(C=1.0, max_iter=5000).fit(scale.transform(rows), labels)
    weights = model.coef_ / scale.scale_
    constants = model.intercept_ - weights @ scale.mean_
    return {
        str(name): (float(c), tuple(float(x) for x in w))
        for name, c, w in zip(model.classes_, constants, weights, strict=True)
    }


def main() -> None:
    coach = Coach(load(shipped_rules()))
    rows, labels = measured(coach, Marker(coach))
    model = make_pipeline(StandardScaler(), LogisticRegression(C=1.0, max_iter=5000))
    folds = RepeatedStratifiedKFold(n_splits=10, n_repeats=5, random_state=1)
    share = cross_val_score(model, rows, labels, cv=folds).mean()
    print(f"# {len(labels)} open answers and foreign cues, {share:.3f} right when left out")
    for name, (constant, weights) in fitted(rows, labels).items():
        shown = ", ".join(f"{w:.3f}" for w in weights)
        print(f"    Verdict.{Verdict(name).name}: ({constant:.3f}, ({shown})),")


if __name__ == "__main__":
    main()
