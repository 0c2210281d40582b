"""What the verbs share: options, opening shop, book and job, telling what went wrong."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from backprobe.base.problems import Problem, has_errors
from backprobe.book import read_book
from backprobe.book.lines import decode
from backprobe.book.model import Book
from backprobe.cli.exits import Exit
from backprobe.cli.plain import to_json
from backprobe.cli.typed import letters
from backprobe.shop.demo import BOOKS, book_text
from backprobe.shop.new_book import proofread
from backprobe.shop.place import usual_place
from backprobe.shop.workshop import JobCard, Shop, StoreError, UnusableBookError

JOB = "the job's number, as `backprobe jobs` shows it; J-0001 may be written 1"


class RefusedError(Exception):
    """Something the command line cannot do here. `problems` says what and what to do."""

    def __init__(self, *problems: Problem, code: Exit = Exit.REFUSED) -> None:
        self.problems = problems
        self.code = code
        super().__init__(*problems)


def refused(slug: str, what: str, why: str, remedy: str) -> RefusedError:
    """A refusal of one problem."""
    return RefusedError(
        Problem(slug=slug, weight="error", at=None, what=what, why=why, remedy=remedy)
    )


def shop_option(parser: argparse.ArgumentParser) -> None:
    """--shop FILE."""
    parser.add_argument(
        "--shop",
        metavar="FILE",
        help="the file of the shop's books and jobs (default: shop.backprobe in your data folder)",
    )


def json_option(parser: argparse.ArgumentParser) -> None:
    """--json."""
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def book_option(parser: argparse.ArgumentParser) -> None:
    """--book NAME_OR_FILE."""
    parser.add_argument(
        "--book",
        required=True,
        metavar="BOOK",
        help=f"a wiring book: a file, a book kept in the shop, or a demo book ({', '.join(BOOKS)})",
    )


def guarded(options: argparse.Namespace, work: Callable[[argparse.Namespace], int]) -> int:
    """Do the work of a verb; what was expected to go wrong is told in words, with its exit code."""
    try:
        return work(options)
    except RefusedError as error:
        tell(options, error.problems)
        return error.code
    except UnusableBookError as error:
        tell(options, error.problems)
        return Exit.PROBLEMS
    except StoreError as error:
        tell(
            options,
            (
                Problem(
                    slug=error.slug,
                    weight="error",
                    at=None,
                    what=error.what,
                    why=error.why,
                    remedy=error.remedy,
                ),
            ),
        )
        return Exit.REFUSED


def tell(options: argparse.Namespace, problems: Sequence[Problem]) -> None:
    """Problems: on the error stream, or as JSON where JSON was asked for."""
    if options.json:
        print(to_json({"problems": list(problems)}))
    else:
        for problem in problems:
            print(problem, file=sys.stderr)


def show(options: argparse.Namespace, result: object, text: str) -> int:
    """Print a result, as JSON or as text, and be done."""
    print(to_json(result) if options.json else text)
    return Exit.DONE


@contextmanager
def shop_of(options: argparse.Namespace) -> Iterator[Shop]:
    """The shop, open for a while. Its folder is made when it is the usual one."""
    path = Path(options.shop) if options.shop else usual_place()
    if not options.shop:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise refused(
                "no-data-folder",
                f"The folder {path.parent} cannot be made: {_reason(error)}.",
                "The shop's books and jobs are kept in a file there.",
                "Name a file of your own: --shop FILE",
            ) from error
    shop = Shop.open(path)
    try:
        yield shop
    finally:
        shop.close()


def file_text(name: str) -> bytes:
    """The bytes of a file a person named."""
    try:
        return Path(name).read_bytes()
    except (OSError, ValueError) as error:
        raise refused(
            "file-unreadable",
            f"The file {name} cannot be read: {_reason(error)}.",
            "Nothing was read from it.",
            "Check the name and the folder.",
        ) from error


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror or str(error)).lower() if isinstance(error, OSError) else str(error)


def book_of(options: argparse.Namespace) -> Book:
    """The book an option names: a file, else one of the shop, else one of the demo."""
    name: str = options.book
    text = _book_text(options, name)
    book, problems = read_book(text, Path(name).name)
    if book is None:
        raise RefusedError(*problems, code=Exit.PROBLEMS)
    return book


def _book_text(options: argparse.Namespace, name: str) -> str | bytes:
    if Path(name).is_file():
        return file_text(name)
    path = Path(options.shop) if options.shop else usual_place()
    kept: tuple[str, ...] = ()
    if path.is_file():
        with shop_of(options) as shop:
            kept = tuple(shop.books())
            if name in kept:
                return shop.book_text(name)
    if name in BOOKS:
        return book_text(name)
    raise no_book(name, kept)


def keep_file(shop: Shop, file: str, name: str) -> tuple[Problem, ...]:
    """A file's book into the shop; returns its warnings and notes. UnusableBookError when it has
    errors."""
    content = file_text(file)
    book, problems = read_book(content, Path(file).name)
    if book is None:
        raise RefusedError(*problems, code=Exit.PROBLEMS)
    shop.add_book(name, decode(content).text)
    return problems


def shelf_name(shop: Shop, name: str) -> str:
    """The name a book is kept under, by the rules of the page: blanks squeezed, capitals do not count,
    and none of the demo's, which would be found first."""
    read = proofread(shop, letters(name), "")
    wrong = [problem for problem in read.problems if problem.slug == "book-name"]
    if wrong:
        raise RefusedError(*wrong, code=Exit.PROBLEMS)
    return read.name


def no_book(name: str, kept: Sequence[str]) -> RefusedError:
    """There is no such book."""
    listed = ", ".join(kept) if kept else "none yet"
    return refused(
        "book-not-found",
        f"There is no wiring book {name!r}.",
        "It is no file here, none of the shop's books, and none of the demo's.",
        f"The shop keeps: {listed}. The demo has: {', '.join(BOOKS)}. Or give the name of a file.",
    )


def card_of(shop: Shop, name: str) -> JobCard:
    """A job by its number. Events that could not be read are told by the caller."""
    return shop.card(job_id(name))


def job_id(name: str) -> str:
    """A job's number as it is printed: J-0001 for 1 and for j-1."""
    digits = name.strip().upper().removeprefix("J-")
    return f"J-{int(digits):04d}" if re.fullmatch("[0-9]{1,9}", digits) else name


def exit_for(problems: Sequence[Problem]) -> Exit:
    """The exit code for a list of problems."""
    return Exit.PROBLEMS if has_errors(problems) else Exit.DONE
