"""A job's sheet: what the shop says about a job, laid out for the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Final
from urllib.parse import urlencode

from backprobe.book.model import Book
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check, Priced
from backprobe.checks.wording import left_words, minutes
from backprobe.findings.model import (
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    JobState,
    Mentioned,
    Photo,
    Withdrawn,
)
from backprobe.kinds import KINDS
from backprobe.kinds.hazards import DEFER
from backprobe.shop.history import closed_of
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.say.forms import FORMS
from backprobe.shop.workshop import JobCard
from backprobe.suspects.model import Suspect, Verdict
from backprobe.suspects.wording import beside_words
from backprobe.web.answers import Typed
from backprobe.web.check_view import (
    check_view,
    figure,
    per_cent,
    rest_of,
    share_of,
    tight,
)
from backprobe.web.codes import asked_code, oops_of
from backprobe.web.contexts import (
    ApprovedView,
    CheckView,
    Choice,
    CouldView,
    Explained,
    FailingView,
    HeadView,
    JobPage,
    LineView,
    MovedRow,
    NewsView,
    OddView,
    Oops,
    PhotoForm,
    PutBack,
    Reason,
    Said,
    Share,
    SuspectView,
    WhatIfView,
    WorkedOut,
)
from backprobe.web.found import code_words, short_of, taken_back, title_of, visit_views
from backprobe.web.once import began_of
from backprobe.web.what_if import Trial, what_if_view
from backprobe.web.where_view import mend_words

CONDITIONS: Final = (
    Choice(value="wet", words="wet"),
    Choice(value="hot", words="hot"),
    Choice(value="moved", words="moved or shaken"),
)
FAILING_NOW: Final = {
    "unknown": "",
    "yes": "Yes",
    "gone": "Gone",
    "only when": "Only sometimes",
}
SHOWN, MOST_SHOWN = 3, 5
"""Suspects shown at once, and at most where they are as likely as the last; the others are a press away."""
ENOUGH: Final = 0.9
"""Once those shown have this much of the chance together, the others wait."""
ALIKE: Final = 0.9
LATEST: Final = 2
"""Findings shown at once, likewise."""
SENTENCES: Final = tuple(Said(name=form.whole, words=form.means) for form in FORMS)
LEADERS: Final = 3
NEWS: Final = 4
WORTH_A_ROW: Final = 0.05
WORTH_SAYING: Final = 0.01
COULD: Final = {"proven": "It was", "mended": "Could still be"}
HOLDS: Final = "The repair holds."
SMALL: Final = 0.02
"""A chance that moved by less is called unchanged."""
TELLING: Final = 1.2
"""A finding that moves a suspect by less than this factor is no reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """A form that could not be used: the check it answers, what was typed, what is wrong."""

    check: str = ""
    typed: Typed | None = None
    oops: Oops | None = None
    line: str = ""
    line_oops: tuple[Oops, ...] = ()
    photo: Oops | None = None
    approved: ApprovedView | None = None


def job_page(
    card: JobCard,
    outlook: Outlook | None,
    verdict: Verdict | None,
    *,
    once: str,
    again: str,
    failed: str = "",
    earlier: tuple[int, Verdict] | None = None,
    wrong: Wrong | None = None,
    trial: Trial | None = None,
    later: Sequence[str] = (),
    before: int = 0,
) -> JobPage:
    """The sheet of a job. `outlook` None: the engine is still at work, or `failed`; so with
    `verdict`, which is known before it; `earlier`:
    the number of findings before the last answer, and what was thought then; `again`: the address
    of this very page; `trial`: an answer that is only tried; `later`: checks not wanted now;
    `before`: other jobs on this machine."""
    job = card.job
    layout = layout_of(job.book, KINDS)
    state = job.state
    bad = wrong or Wrong()
    return JobPage(
        head=head_of(card),
        before="" if not before else "1 other job" if before == 1 else f"{before} other jobs",
        at=len(job.findings),
        once=once,
        again=again,
        closed=closed_of(job.findings) is not None,
        could=_could(layout, state, verdict) if verdict else None,
        worked=_worked(layout, card, outlook, bad, again, later) if outlook else None,
        failed=failed,
        put_back=_put_back(state),
        news=_news(layout, job, verdict, earlier) if verdict and earlier else None,
        what_if=_what_if(layout, job, outlook, trial) if outlook and trial else None,
        failing=_failing(state),
        approved=replace(
            bad.approved or ApprovedView(),
            now="" if state.approved_s is None else minutes(state.approved_s),
        ),
        photo=PhotoForm(
            oops=bad.photo,
            findings=tuple(
                Choice(value=f.id, words=title_of(layout, f))
                for f in reversed(state.findings)
                if not isinstance(f, Photo | Closed)
            ),
        ),
        visits=visit_views(card.row.id, layout, state, state.findings[-LATEST:]),
        older=visit_views(card.row.id, layout, state, state.findings[:-LATEST]),
        older_count=len(state.findings[:-LATEST]),
        count=len(state.findings),
        taken_back=taken_back(card.row.id, layout, job.findings, state),
        unread=tuple(oops_of(problem) for problem in card.problems),
        line=LineView(
            typed=bad.line,
            oops=bad.line_oops,
            hint=_hint(job.book),
            # a sheet that is followed by another in seconds need not carry them
            examples=SENTENCES if outlook or failed else (),
        ),
        oops=bad.oops if bad.oops and not bad.check else None,
        foot=DEFER,
    )


def group_words(job: Job) -> dict[str, str]:
    """Names of the suspect groups by their keys."""
    return {group.key: group.words for group in job.circuit.defects.groups}


# ------------------------------------------------------------------ head and findings


def head_of(card: JobCard) -> HeadView:
    """The head of a job."""
    row = card.row
    facts = [f"serial {row.serial}"] if row.serial else []
    if row.hours is not None:
        facts.append(f"{row.hours:g}\u00a0h")
    return HeadView(
        ident=row.id,
        began=began_of(row),
        machine=row.machine,
        serial=row.serial,
        facts=", ".join(facts),
        complaint=row.complaint,
        book=card.book_name,
        newer_book=card.newer_book,
    )


def _failing(state: JobState) -> FailingView:
    chosen = {"unknown": "", "yes": "yes", "gone": "gone", "only when": ""}[state.failing]
    return FailingView(
        now=FAILING_NOW[state.failing],
        unknown=state.failing == "unknown",
        choices=(
            Choice(value="yes", words="Failing now", chosen=chosen == "yes"),
            Choice(value="gone", words="Gone now", chosen=chosen == "gone"),
        ),
        conditions=CONDITIONS,
    )


def _hint(book: Book) -> str:
    """A line that could be typed on this machine."""
    function = next(iter(book.functions), "")
    fuse = next((part.name for part in book.parts.values() if part.kind == "fuse"), "")
    return f"fuse {fuse} blown" if fuse else f"works {function}" if function else ""


# ------------------------------------------------------------------ what the engine says


def _worked(
    layout: Layout,
    card: JobCard,
    outlook: Outlook,
    bad: Wrong,
    again: str,
    later: Sequence[str],
) -> WorkedOut:
    words = group_words(card.job)
    mended = {p.check.target for p in outlook.proposal.next if p.check.does == "repair"}
    likely = {
        s.group: mend_words(card.job, s)
        for s in outlook.verdict.suspects
        if s.names and s.group in mended
    }
    # not wanted now: behind the others, the latest such last
    priceds = sorted(
        outlook.proposal.next,
        key=lambda p: later.index(p.check.id) + 1 if p.check.id in later else 0,
    )
    views = [
        check_view(
            layout,
            words,
            priced,
            likely=likely,
            seen=_seen(card.job, priced.check),
            key=f"check{number}",
            findings=card.job.state.findings,
            later=f"{again}&{urlencode({'later': priced.check.id})}" if len(priceds) > 1 else "",
            typed=bad.typed if priced.check.id == bad.check else None,
            oops=bad.oops if priced.check.id == bad.check else None,
        )
        for number, priced in enumerate(priceds)
    ]
    views = told_apart(views, priceds)
    proven = outlook.verdict.proof if outlook.verdict.state == "proven" else None
    return WorkedOut(
        notices=_notices(outlook),
        done=proven.mended if proven else "",
        proof=proven.words if proven else "",
        best=views[0] if views else None,
        others=tuple(views[1:]),
        ask=outlook.proposal.ask,
        left=left_words(outlook.proposal.half_s, outlook.proposal.ninety_s),
    )


def _could(layout: Layout, state: JobState, verdict: Verdict) -> CouldView:
    bets = {f.target: f.id for f in state.findings if isinstance(f, Bet) and f.trusted}
    still = _still(verdict)
    together = accumulate(one.chance for one in still[:SHOWN])
    shown = next((k for k, sum_ in enumerate(together, 1) if sum_ >= ENOUGH), SHOWN)
    while (
        shown < min(MOST_SHOWN, len(still))
        and still[shown].chance > ALIKE * still[shown - 1].chance
    ):
        shown += 1
    suspects = tuple(_suspect(layout.book, one, bets) for one in still)
    return CouldView(
        heading=COULD.get(verdict.state, "Could be"),
        suspects=suspects[:shown],
        more=suspects[shown:],
        rest=_rest(verdict),
        odd=tuple(
            OddView(words=_sentence(c.words), ways_out=c.ways_out, without=_sentence(c.without))
            for c in verdict.contradictions
        ),
        proven=verdict.state == "proven" and verdict.proof is not None,
    )


def told_apart(views: Sequence[CheckView], priceds: Sequence[Priced]) -> list[CheckView]:
    """The checks, those of one title by what is theirs alone: how the machine stands, else the words
    the title leaves out."""
    titles = [view.title for view in views]
    stands = [one.check.situation.words().split(", ") for one in priceds]
    told = []
    for number, (view, own) in enumerate(zip(views, stands, strict=True)):
        twins = [k for k, title in enumerate(titles) if title == view.title and k != number]
        others = [words for k in twins for words in stands[k]]
        apart = ", ".join(words for words in own if words not in others)
        alike = any(stands[k] == own for k in twins)
        title = f"{view.title}, {apart or own[0]}" if twins else view.title
        told.append(replace(view, title=priceds[number].check.words if alike else title))
    return told


def _seen(job: Job, check: Check) -> tuple[Choice, ...]:
    """Codes to tick where a check asks for one: those its unit showed on this job."""
    unit, asked = asked_code(check)
    if not unit:
        return ()
    lists = [f for f in job.findings if isinstance(f, CodesFound) and f.unit == unit]
    codes = [asked, *(code for one in lists for code in (*one.active, *one.stored))]
    return tuple(
        Choice(value=code, words=code_words(job.book, unit, code, blinks=True))
        for code in dict.fromkeys(codes)
    )


def _put_back(state: JobState) -> tuple[PutBack, ...]:
    """The put-back list; codes of a test are cleared, all else is put back."""
    return tuple(
        PutBack(words=words, said="Cleared" if words.startswith("code ") else "It is back")
        for words in state.put_back
    )


def _notices(outlook: Outlook) -> tuple[str, ...]:
    verdict, state = outlook.verdict, outlook.state
    found: list[str] = []
    if verdict.state == "gone":
        found.append("It is not failing now: bring it back, or look for damage that stays.")
    if verdict.state == "odd":
        found.append("The findings do not add up. Measure again before you open anything.")
    first = next(iter(verdict.suspects), None)
    if verdict.state == "decided" and first and first.group not in state.repaired:
        found.append(f"Found: {first.words} ({per_cent(first.chance)}).")
    if verdict.state == "mended" and verdict.proof is not None:
        found.append(
            f"Mended, not proven: {verdict.proof.words} A fault may still be there "
            f"({per_cent(verdict.proof.still)})."
        )
    elif state.repaired and verdict.state != "proven":
        found.append(f"Mended on this job: {', '.join(dict.fromkeys(state.repaired))}.")
    return tuple(found)


def _still(verdict: Verdict) -> tuple[Suspect, ...]:
    """The suspects as they are listed: by the chance that it still is this one, and what was mended is
    not told how; once the repair holds, only what it was."""
    if verdict.state == "proven" and verdict.proof is not None:
        return tuple(s for s in verdict.suspects if s.group == verdict.proof.group)
    left = (
        replace(s, chance=s.still, names=()) if verdict.state == "mended" or _mended(s) else s
        for s in verdict.suspects
    )
    return tuple(sorted(left, key=lambda s: -s.chance))


def _mended(suspect: Suspect) -> bool:
    return suspect.chance - suspect.still > WORTH_SAYING


def _rest(verdict: Verdict) -> tuple[Share, ...]:
    """What it could be besides, but for what is hardly so."""
    if verdict.proof is not None and verdict.state == "proven":
        return (share_of("another fault", verdict.proof.still),)
    fine = verdict.healthy
    fine += sum(s.chance - s.still for s in verdict.suspects if _mended(s))
    besides = (
        ("something that is not in this book", verdict.not_in_book),
        ("nothing is wrong any more", fine),
    )
    return tuple(share_of(words, chance) for words, chance in besides if chance >= WORTH_SAYING)


def _suspect(book: Book, suspect: Suspect, bets: Mapping[str, str]) -> SuspectView:
    return SuspectView(
        group=suspect.group,
        bet=bets.get(suspect.group, ""),
        beside=tuple(
            share_of(beside_words(one), min(1.0, one.chance / max(suspect.chance, one.chance)))
            for one in suspect.beside
        ),
        share=share_of(suspect.words, suspect.chance),
        names=tuple(
            share_of(rest_of(words, suspect.words), chance)
            for words, chance in suspect.names
            if chance >= 0.005 * suspect.chance
        ),
        comes_and_goes=suspect.sometimes > 0.5,
        reasons=tuple(
            Reason(weight=_weight(r.factor), against=r.factor < 1.0, words=_sentence(r.words))
            for r in suspect.reasons
            if not 1.0 / TELLING < r.factor < TELLING
        ),
        all_codes=0 if suspect.leaves_open else len(suspect.explains),
        explains=tuple(
            Explained(name=said.name, words=said.words, path=path)
            for said, path in zip(_codes(book, suspect.explains), suspect.paths, strict=True)
            # that it explains all of them is said in a line
            if path or suspect.leaves_open or len(suspect.explains) == 1
        ),
        leaves_open=_codes(book, suspect.leaves_open),
    )


def _codes(book: Book, codes: Iterable[str]) -> tuple[Said, ...]:
    """Codes "ECU 157/4" with what they mean."""
    parted = [code.rpartition(" ") for code in codes]
    return tuple(Said(name=unit, words=code_words(book, unit, code)) for unit, _, code in parted)


def _weight(factor: float) -> str:
    strong = factor >= 5.0 or factor <= 0.2
    way = "for" if factor >= 1.0 else "against"
    return f"strongly {way}" if strong else way


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


# ------------------------------------------------------------------ what an answer changed


def _news(layout: Layout, job: Job, now: Verdict, earlier: tuple[int, Verdict]) -> NewsView | None:
    count, before = earlier
    fresh = job.findings[count:]
    if not fresh:
        return None
    first = fresh[0]
    then = replace(job, findings=job.findings[:count])
    said = tuple(tight(remark) for remark in then.remarks(*fresh) if remark)
    rows = _moved(group_words(job), before, now)
    moved = [row for row in rows if row.way != "same"]
    summary = "; ".join(f"{row.words} {row.before} to {row.after}" for row in moved)
    taken = isinstance(first, Withdrawn)
    kept = all(isinstance(one, Photo | Approved | Mentioned) for one in fresh)
    little = "Kept with the job; it moves no chance." if kept else "That changed little."
    named = _named(layout, job.findings, fresh)
    if now.proof is not None and now.state == "proven" and not taken:
        return NewsView(
            heading=f"Noted: {named}",
            summary=HOLDS,
            remarks=(),
            rows=(),
            undo=tuple(finding.id for finding in fresh),
        )
    return NewsView(
        heading=f"Taken back: {named}" if taken else f"Noted: {named}",
        summary=" ".join((summary or little, *said)),
        remarks=said,
        rows=rows if moved else (),
        undo=tuple(finding.id for finding in fresh),
    )


def _what_if(layout: Layout, job: Job, now: Outlook, trial: Trial) -> WhatIfView:
    rows = _moved(group_words(job), now.verdict, trial.outlook.verdict)
    return what_if_view(layout, trial, rows)


def _named(layout: Layout, findings: Sequence[AnyFinding], fresh: Sequence[AnyFinding]) -> str:
    """The new findings in a line; a withdrawal by what it takes back."""
    by_id = {finding.id: finding for finding in findings}
    shown = [by_id.get(f.finding, f) if isinstance(f, Withdrawn) else f for f in fresh]
    return "; ".join(short_of(layout, finding) for finding in shown)


def _moved(words: Mapping[str, str], before: Verdict, now: Verdict) -> tuple[MovedRow, ...]:
    """The leading groups of both, the likeliest now first."""
    was = {suspect.group: suspect.still for suspect in before.suspects}
    is_now = {suspect.group: suspect.still for suspect in now.suspects}
    leading = [s.group for s in (*now.suspects[:LEADERS], *before.suspects[:LEADERS])]
    ranked = sorted(dict.fromkeys(leading), key=lambda g: -is_now.get(g, 0.0))
    groups = [
        group
        for number, group in enumerate(ranked)
        if number < 2 or max(was.get(group, 0.0), is_now.get(group, 0.0)) >= WORTH_A_ROW
    ][:NEWS]
    return tuple(
        _row(words.get(group, group), was.get(group, 0.0), is_now.get(group, 0.0))
        for group in groups
    )


def _row(words: str, before: float, after: float) -> MovedRow:
    same = abs(after - before) < SMALL
    return MovedRow(
        words=words,
        before=figure(before),
        after=figure(after),
        width_before=round(100.0 * before),
        width_after=max(1, round(100.0 * after)),
        way="same" if same else "up" if after > before else "down",
    )
