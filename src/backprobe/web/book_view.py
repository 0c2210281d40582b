"""A wiring book's page: its problems and what was assumed."""

from __future__ import annotations

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.shop.assumed import told_together
from backprobe.web.contexts import AssumedView, BookPage, ProblemView


def book_page(name: str, book: Book, problems: tuple[Problem, ...]) -> BookPage:
    """The page of a book that can be used; `problems` are its warnings and notes."""
    return BookPage(
        name=name,
        machine=book.machine.name,
        size=size_of(book),
        problems=tuple(problem_view(problem) for problem in problems),
        assumed=assumed_views(book),
    )


def size_of(book: Book) -> str:
    """How much is in a book."""
    return f"{len(book.parts)} parts, {len(book.wires)} wires, {len(book.codes)} codes"


def assumed_views(book: Book) -> tuple[AssumedView, ...]:
    """What was filled in, the same of many together."""
    return tuple(
        AssumedView(about=one.about, what=one.what, because=one.because)
        for one in told_together(book.assumptions)
    )


def problem_view(problem: Problem) -> ProblemView:
    """A problem with its place in the text."""
    at = problem.at
    return ProblemView(
        weight=problem.weight,
        what=problem.what,
        where=f"line {at.line}, column {at.column}" if at else "",
        marked=at.marked() if at and at.text else "",
        why=problem.why,
        remedy=problem.remedy,
    )
