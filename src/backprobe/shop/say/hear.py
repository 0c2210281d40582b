"""A typed text into findings, or into what is wrong with it. Never both, never an exception."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backprobe.base.problems import Problem
from backprobe.book.lines import (
    LONGEST_LINE,
    Bit,
    Line,
    read_line,
    split_lines,
    split_list,
    split_on,
)
from backprobe.book.model import Book
from backprobe.findings.model import AnyFinding, Failing, JobState
from backprobe.shop.say import acts, readings, states
from backprobe.shop.say.ear import Ear, Sentence
from backprobe.shop.say.forms import FORMS, Form
from backprobe.shop.say.names import near, squeezed

FILE: Final = "typed"
"""What problems call the text."""
_AS_TYPED: Final = str.maketrans("\u2212\u00a0\u202f", "-  ")
"""What phones and copied text write for a minus and a blank."""
_VISIT: Final = next(form for form in FORMS if form.begins == "new visit")

_LISTENERS: Final = {
    **readings.LISTENERS,
    **states.LISTENERS,
    **acts.LISTENERS,
}


def hear(
    text: str, book: Book, *, state: JobState, asking: bool = False
) -> tuple[AnyFinding, ...] | tuple[Problem, ...]:
    """The findings a text says, in its order, or every problem with it.

    One finding per sentence; sentences end at `;` or the line's end, `#` begins a free note on
    the line's findings, a last `?` marks one that is not trusted. What a sentence does not say
    about key, loads and plugs is as the finding before left it (`state.now`). Ids and times are
    left to the caller; visits count on from `state.visit`. `asking`: what should be read is asked
    for, so that no probe need get there.
    """
    text = text.removeprefix("\ufeff").translate(_AS_TYPED)
    ear = Ear.of(book, state)
    ear.asking = asking
    for number, raw in enumerate(split_lines(text) or [""], 1):
        if len(raw) > LONGEST_LINE:
            line = read_line(FILE, number, raw[:80])
            ear.doubt("say-too-long", line, line.body, count=str(len(raw)), most=str(LONGEST_LINE))
        else:
            _hear_line(ear, read_line(FILE, number, raw))
    if not ear.findings and not ear.problems:
        empty = read_line(FILE, 1, "")
        ear.doubt("say-nothing", empty, empty.body)
    return tuple(ear.problems) or tuple(ear.findings)


def _hear_line(ear: Ear, line: Line) -> None:
    note = squeezed(line.comment.lstrip("#"))
    fresh = False
    for bit in split_on(line.body, ";"):
        sentence, length = bit, _length(_VISIT, bit.text)
        if length:
            fresh = True
            ear.visit += 1 if ear.known or ear.findings else 0
            sentence = _past(bit, length)
        if sentence.text:
            fresh = False
            _hear_sentence(ear, line, sentence, note)
    if fresh:
        ear.doubt("say-empty-visit", line, line.body)


def _hear_sentence(ear: Ear, line: Line, sentence: Bit, note: str) -> None:
    doubtful = sentence.text.endswith("?")
    if doubtful:
        sentence = sentence.part(0, len(sentence.text) - 1)
    items = split_list(sentence)
    if not items:
        ear.doubt("say-nothing", line, line.body)
        return
    form = _form(items[0].text)
    if form is None or form is _VISIT:
        known = ", ".join(form.begins for form in FORMS)
        word = sentence.text.split(" ", 1)[0] if sentence.text else ""
        ear.doubt(
            "say-unknown-beginning", line, Bit(word, sentence.column), word=word, known=known,
            near=near(word, (form.begins for form in FORMS)),
        )  # fmt: skip
        return
    rest = _past(items[0], _length(form, items[0].text))
    said = Sentence(form=form, line=line, rest=rest, items=items[1:])
    finding = _LISTENERS[form.begins](ear, said)
    if finding is not None:
        ear.visit += _turned(ear, finding)
        ear.take(replace(finding, visit=ear.visit, trusted=not doubtful, note=note))


def _turned(ear: Ear, finding: AnyFinding) -> bool:
    """It fails now and did not before, or the other way: another visit, as on the sheet."""
    said = [
        f for f in (*ear.known, *ear.findings) if isinstance(f, Failing) and f.visit == ear.visit
    ]
    return (
        isinstance(finding, Failing)
        and bool(said)
        and ({finding.answer, said[-1].answer} == {"yes", "gone"})
    )


def _past(bit: Bit, length: int) -> Bit:
    """What follows a beginning, and the colon or comma a person may set behind it."""
    rest = bit.part(length)
    return rest.part(len(rest.text) - len(rest.text.lstrip(":, \t")))


def _form(text: str) -> Form | None:
    return next((form for form in FORMS if _length(form, text)), None)


def _length(form: Form, text: str) -> int:
    """How much of a text the beginning of a form takes; 0 when it does not begin so."""
    at = 0
    for word in form.begins.split():
        while at < len(text) and text[at].isspace():
            at += 1
        end = at + len(word)
        if text[at:end].casefold() != word or text[end : end + 1].strip(" \t:,"):
            return 0
        at = end
    return at
