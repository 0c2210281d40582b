"""Lists of codes as they are typed or ticked."""

from __future__ import annotations

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.checks.model import Check
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound
from backprobe.shop.say import hear
from backprobe.web.contexts import Oops


def oops_of(problem: Problem) -> Oops:
    """A problem of the shop, to be shown beside a form."""
    return Oops(what=problem.what, why=problem.why, remedy=problem.remedy)


def listed(
    book: Book, unit: str, active: str, stored: str = "", *, whole: bool
) -> CodesFound | tuple[Oops, ...]:
    """A unit's codes from two typed lists, "none" for an empty one; or what is wrong with them."""
    stored = in_one_line(stored)
    line = f"codes {unit} {in_one_line(active)}" + (f" stored {stored}" if stored else "")
    heard = hear(f"{line}{'' if whole else ' perhaps more'}, key on", book, state=fold(()))
    found = next((one for one in heard if isinstance(one, CodesFound)), None)
    return found or tuple(oops_of(one) for one in heard if isinstance(one, Problem))


def in_one_line(text: str) -> str:
    """A typed list in one line; what separates findings elsewhere separates codes here."""
    for sign in ",;#\r\n\t?":
        text = text.replace(sign, " ")
    return " ".join(text.split())


def asked_code(check: Check) -> tuple[str, str]:
    """(unit, code) that a check asks for; ("", "") when it asks for none."""
    if check.does not in ("codes", "unplug"):
        return "", ""
    named = check.setting if check.does == "unplug" else check.target
    unit, _, code = named.rpartition(" ")
    return unit, code
