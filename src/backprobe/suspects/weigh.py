"""From findings to belief: exact Bayes over stories."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from backprobe.base.sums import log_sum
from backprobe.book.model import Book
from backprobe.defects.model import Defects, Floats, Ints, Predictor
from backprobe.findings.model import Condition, Failing, JobState
from backprobe.suspects.coin import of_sound
from backprobe.suspects.evidence import Evidence, ask, gather
from backprobe.suspects.factor import Factor
from backprobe.suspects.filter import Filtered, filtered, laid
from backprobe.suspects.model import Belief
from backprobe.suspects.prior import Stories, stories
from backprobe.suspects.view import View

HEALTHY_SHARE = 0.6
"""Under "not in this book", chance that one finding is as on a healthy machine. Judgement."""

NOT_KNOWN = 0.5
"""Chance that a fault which is not in the book shows now."""
KEPT = 150
"""Hypotheses that are weighed again with finer worlds."""
SPLIT, PIECES = 32, 31
"""Of those, so many have their severity cell cut into pieces: five readings along one path err alike by
what a cell leaves open, and are not five votes. However unlikely a whole cell has become: it pays
for its width with every reading anew, a hundredth each time, its right piece but once."""


def weigh(book: Book, predictor: Predictor, job: JobState) -> Belief:
    """The belief about a job: how likely every defect of the book is, always or sometimes there.

    Findings that are not trusted, and those about places the book does not know, do not count.
    All hypotheses are weighed with a few worlds, the likeliest again with many. Two faults are
    weighed where the predictor carries them; judge() finds out which ones it should.
    """
    return weighed(ask(book, predictor, job), job)


def weighed(view: View, job: JobState) -> Belief:
    """weigh() on a view that has been asked already."""
    evidence = gather(view, job)
    return finished(view, job, coarse(evidence, view.defects), evidence)


def coarse(evidence: Evidence, defects: Defects) -> tuple[Filtered, Filtered]:
    """All hypotheses as always there, and as coming and going."""
    told = laid(evidence, defects)
    return filtered(told, sometimes=False), filtered(told, sometimes=True)


def finished(
    view: View, job: JobState, told: tuple[Filtered, Filtered], evidence: Evidence
) -> Belief:
    """The belief from what all hypotheses of a view came to, the likeliest weighed again with finer
    worlds. `evidence`: that of the singles."""
    defects = view.defects
    prior = stories(defects, conditions_told(job))
    always, comes = told
    belief = _belief(defects, prior, always, comes, outside(evidence))
    if any(isinstance(one, Factor) and one.lead for one in evidence.told):
        split = _wide(defects, belief)
        rows = defects.with_halves(np.union1d(likeliest(belief, KEPT), split))
        view = view.pieces(rows, split, PIECES) if split.size else view.near(rows)
        near = gather(view, job)
        fine = laid(near, view.defects)
        place = np.searchsorted(rows, split)
        always, comes = (
            told.put(
                rows, _in_pieces(filtered(fine, sometimes=often), place, view.defects, rows.size)
            )
            for told, often in ((always, False), (comes, True))
        )
        belief = _belief(defects, prior, always, comes, outside(near))
    background = sum(told.background for told in evidence.told)
    return replace(belief, evidence=belief.evidence + background)


def likeliest(belief: Belief, count: int) -> Ints:
    """The likeliest hypotheses in rising order, healthy first."""
    order = np.argsort(-belief.hypothesis, kind="stable")[:count]
    return np.concatenate([[0], np.sort(order[order > 0])]).astype(np.int64)


def _wide(defects: Defects, belief: Belief) -> Ints:
    """Likely singles, alone or of two faults, whose severity is known only to a cell, each with the severities beside it: what
    one loses when it is cut is theirs, and they pay for every reading anew while they are whole."""
    chance, two = belief.hypothesis.copy(), defects.twofold
    if defects.halves is not None:
        np.add.at(chance, defects.halves[two], chance[two, None])
    chance[two] = chance[defects.spread <= 1.0] = 0.0
    ranked = np.argsort(-chance, kind="stable")[:SPLIT]
    ranked = ranked[chance[ranked] > 0.0]
    ladder = np.lexsort((defects.ohm, defects.atom_of))
    place = np.empty_like(ladder)
    place[ladder] = np.arange(ladder.size)
    near = place[ranked, None] + np.array([0, -1, 1])
    beside = ladder[near.clip(0, ladder.size - 1)]
    of_it = (defects.atom_of[beside] == defects.atom_of[ranked, None]) & (
        defects.spread[beside] > 1.0
    )
    found = np.array(list(dict.fromkeys(beside[of_it].tolist()))[:SPLIT], np.int64)
    return np.sort(found)


def _in_pieces(fine: Filtered, place: Ints, defects: Defects, count: int) -> Filtered:
    """The first `count` rows, those at `place` taken from their pieces, which follow. Two faults gain by it
    what the half gains or loses that it matters more to: what the readings say of its severity is the same."""
    told = _joined(fine, count, place)
    if defects.halves is None or not place.size:
        return told
    gain = np.zeros(count)
    with np.errstate(invalid="ignore"):
        gain[place] = np.nan_to_num(
            told.log_lik[place] - fine.log_lik[place], posinf=0.0, neginf=0.0
        )
    halves = defects.halves[:count]
    two = np.flatnonzero(halves[:, 0] >= 0)
    both = gain[halves[two]]
    more = np.where(np.abs(both[:, 0]) >= np.abs(both[:, 1]), both[:, 0], both[:, 1])
    log_lik = told.log_lik.copy()
    log_lik[two] += more
    return replace(told, log_lik=log_lik)


def _joined(fine: Filtered, count: int, place: Ints) -> Filtered:
    """The first `count` rows, those at `place` taken from their pieces, which follow."""
    if not place.size:
        return fine
    pieces = fine.log_lik[count:].reshape(place.size, -1)
    total = log_sum(pieces)
    weight = np.exp(pieces - np.where(np.isfinite(total), total, 0.0)[:, None])
    alone = fine.alone[count:].reshape(*pieces.shape, 2)
    whole = Filtered(
        log_lik=fine.log_lik[:count],
        present=fine.present[:count],
        mended=fine.mended[:count],
        alone=fine.alone[:count],
    )
    return whole.put(
        place,
        Filtered(
            log_lik=total - np.log(pieces.shape[1]),
            present=(weight * fine.present[count:].reshape(pieces.shape)).sum(axis=1),
            mended=(weight * fine.mended[count:].reshape(pieces.shape)).sum(axis=1),
            alone=(weight[..., None] * alone).sum(axis=1),
        ),
    )


def _belief(
    defects: Defects, prior: Stories, always: Filtered, comes: Filtered, log_outside: float
) -> Belief:
    log_lik = by_story(defects, always, comes, log_outside)
    chance, log_evidence = combine(prior.log_prior, log_lik)
    each = _hypotheses(defects, chance, always, comes)
    total: Floats = each[0] + each[1]
    safe = np.where(total > 0.0, total, 1.0)
    return Belief(
        atom=prior.atom,
        sometimes=prior.sometimes,
        chance=chance,
        present=_by_story(
            defects, (always, always.present), (comes, comes.present), outside=NOT_KNOWN
        ),
        mended=_by_story(defects, (always, always.mended), (comes, comes.mended), outside=0.0),
        hypothesis=total,
        alone=sum(
            part[:, None] * one.alone for part, one in zip(each, (always, comes), strict=True)
        )
        / safe[:, None],
        evidence=log_evidence,
    )


def conditions_told(job: JobState) -> frozenset[Condition]:
    """The conditions the failure was tied to."""
    return frozenset(
        finding.condition
        for finding in job.findings
        if isinstance(finding, Failing) and finding.trusted and finding.answer != "gone"
    )


def combine(log_prior: Floats, log_lik: Floats) -> tuple[Floats, float]:
    """Bayes' rule in logarithms: (R,) posterior that sums to 1, natural log of the evidence."""
    joint = log_prior + log_lik
    total = float(log_sum(joint))
    if not np.isfinite(total):
        return np.exp(log_prior - log_sum(log_prior)), total
    posterior = np.exp(joint - total)
    return posterior / posterior.sum(), total


def by_story(defects: Defects, always: Filtered, comes: Filtered, log_outside: float) -> Floats:
    """(R,) log ratio of all findings under every story: severities summed with their weights."""
    return np.concatenate(
        [_sum(defects, always.log_lik), _sum(defects, comes.log_lik)[1:], [log_outside]]
    )


def outside(evidence: Evidence) -> float:
    """Log ratio of all findings under "not in this book": each one as on a healthy machine, or
    anything at all."""
    ratio = np.ones(evidence.world.size)
    log_scale = 0.0
    for segment in evidence.segments:
        for factor in segment.factors:
            ratio = ratio * _outside(factor)
        for told in segment.lists:
            healthy = HEALTHY_SHARE * of_sound(told)
            ratio = ratio * (healthy + (1.0 - HEALTHY_SHARE) * told.outside)
        top = float(ratio.max())
        ratio, log_scale = ratio / top, log_scale + float(np.log(top))
    return float(np.log(ratio @ evidence.world)) + log_scale


def _outside(factor: Factor) -> Floats | float:
    if factor.outside is not None:
        return factor.outside
    healthy: Floats = HEALTHY_SHARE * factor.present[0] + (1.0 - HEALTHY_SHARE)
    return healthy


def _sum(defects: Defects, log_lik: Floats) -> Floats:
    """(A,) log of the weighted sum over each atom's severities."""
    top = np.full(len(defects.atoms), -np.inf)
    np.maximum.at(top, defects.atom_of, log_lik)
    safe = np.where(np.isfinite(top), top, 0.0)
    terms = defects.weight * np.exp(log_lik - safe[defects.atom_of])
    with np.errstate(divide="ignore"):
        return np.log(np.bincount(defects.atom_of, terms, minlength=safe.size)) + safe


def _shares(defects: Defects, log_lik: Floats) -> Floats:
    """(H,) share of each severity within its atom's story."""
    total = _sum(defects, log_lik)
    safe = np.where(np.isfinite(total), total, 0.0)
    return defects.weight * np.exp(log_lik - safe[defects.atom_of])


def _by_story(
    defects: Defects,
    always: tuple[Filtered, Floats],
    comes: tuple[Filtered, Floats],
    *,
    outside: float,
) -> Floats:
    """(R,) a chance of hypotheses by story: that the defect shows now, that it is mended."""
    rows: list[Floats] = []
    for one, chance in (always, comes):
        shares = _shares(defects, one.log_lik) * chance
        total: Floats = np.zeros(len(defects.atoms))
        np.add.at(total, defects.atom_of, shares)
        rows.append(total)
    rows[0][0] = 0.0
    return np.concatenate([rows[0], rows[1][1:], [outside]])


def _hypotheses(
    defects: Defects, chance: Floats, always: Filtered, comes: Filtered
) -> tuple[Floats, Floats]:
    """(H,) posterior of each severity under either story of its atom."""
    atoms = len(defects.atoms)
    first = chance[:atoms]
    second = np.concatenate([[0.0], chance[atoms:-1]])
    at = defects.atom_of
    return (
        first[at] * _shares(defects, always.log_lik),
        second[at] * _shares(defects, comes.log_lik),
    )
