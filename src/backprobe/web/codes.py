"""Lists of codes as they are typed or ticked."""

from __future__ import annotations

import re
from typing import Final

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.checks.model import Check
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound
from backprobe.shop.say import hear
from backprobe.shop.say.states import BLINK_WORDS
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


PAIR: Final = re.compile(
    r"\bSPN\W{0,3}(\d{1,6})\W{0,3}FMI\W{0,3}(\d{1,2})\b|(?<![\w.])(\d{1,6})[/.-](\d{1,2})(?![\w.])",
    re.IGNORECASE,
)
"""A number and how it fails, as displays print it: 157/4, 157-4, 157.4, SPN 157 FMI 4."""
OFTEN: Final = re.compile(
    r"\W{0,3}(?:(?:x|\u00d7|counts?|OC|occurrences?)\W{0,2}(\d{1,4})|(\d{1,4})\s?(?:x|\u00d7|times))\b",
    re.IGNORECASE,
)
"""How often a code was counted, right after it: x12, 12x, count 12, OC: 12."""
BLINKS: Final = re.compile(
    rf"\b(?:{'|'.join(BLINK_WORDS)})\b(?:\s+codes?)?\W{{0,3}}(\d{{1,2}}(?:\s?-\s?\d{{1,2}}){{0,3}})(?![\w./-])"
    r"|(?<![\w./-])(\d{1,2}(?:-\d{1,2}){1,3})(?![\w./-])",
    re.IGNORECASE,
)
"""What a lamp blinks: "blinks 3-2", "flash code: 3-2", or bare groups."""
JOIN: Final = "\u2011"
"""Holds the groups of an unknown blink code together while pairs of numbers are looked for."""
NUMBERED: Final = re.compile(r"^\s*\d{1,2}[.)]\s+")
OLD: Final = re.compile(r"\b(stored|inactive|not active|previous\w*|history)\b", re.IGNORECASE)
NOW: Final = re.compile(r"\b(active|present|current)\b", re.IGNORECASE)


def pasted(book: Book, unit: str, text: str) -> tuple[str, str]:
    """A pasted code list as (active, stored) lists of codes, for `listed`.

    A line may hold several codes, and words that say what one means; a line that says "stored" or
    "inactive" is stored. What is not understood is handed on, so that it is refused by name.
    """
    lists: tuple[list[str], list[str]] = ([], [])
    text = _without_blinks(book, unit, text)
    text = PAIR.sub(lambda m: f"{m[1] or m[3]}/{m[2] or m[4]}", text)
    for line in re.split(r"[\r\n;]+", text):
        for part, old in _parts(NUMBERED.sub("", line)):
            lists[old].extend(_codes_in(book, unit, part))
    active, stored = (" ".join(codes).replace(JOIN, "-") for codes in lists)
    return active, stored


def _without_blinks(book: Book, unit: str, text: str) -> str:
    """The text with every blink code as the code it stands for; those the book lacks stay. Bare
    groups that are a code of their own ("3-2" for 3/2) are left alone."""
    codes = {code: rule for (of, code), rule in book.codes.items() if of == unit}
    known = {rule.blinks: code for code, rule in codes.items() if rule.blinks}

    def code_of(match: re.Match[str]) -> str:
        groups = (match[1] or match[2]).replace(" ", "")
        own = match[2] and (groups in codes or groups.replace("-", "/", 1) in codes)
        if groups in known and not own:
            return known[groups]
        if match[2] and groups.count("-") == 1:
            return groups  # perhaps a pair of numbers
        return f"{'blinks ' if match[1] else ''}{groups.replace('-', JOIN)}"

    return BLINKS.sub(code_of, text)


def _parts(line: str) -> list[tuple[str, bool]]:
    """A line in parts, each with whether it is of the stored list."""
    old = OLD.search(line)
    if old is None:
        return [(part, False) for part in line.split(",")]
    before, after = line[: old.start()], line[old.end() :]
    if any(c.isdigit() for c in after):
        return [*((p, False) for p in before.split(",")), *((p, True) for p in after.split(","))]
    *others, last = before.split(",")
    return [*((part, False) for part in others), (f"{last} {after}", True)]


def _codes_in(book: Book, unit: str, line: str) -> list[str]:
    if re.search(r"\b(not|by test|perhaps)\b", NOW.sub(" ", line), re.IGNORECASE):
        return [line]
    known = {code.casefold(): code for of, code in book.codes if of == unit}
    quoted = re.findall(r'"[^"]+"', line)
    line = NOW.sub(" ", re.sub(r'"[^"]+"', " ", line))
    found: list[str] = []
    beside: list[str] = []
    at = 0
    for m in PAIR.finditer(line):
        found.append(f"{m[1] or m[3]}/{m[2] or m[4]}")
        beside.append(line[at : m.start()])
        often = OFTEN.match(line, m.end())
        found += [f"x{often[1] or often[2]}"] if often else []
        at = often.end() if often else m.end()
    left: list[str] = []
    for word in " ".join([*beside, line[at:]]).split():
        code = known.get(word.casefold().strip(":.()"))
        if code:
            found.append(code)
        else:
            left.append(word)
    if not found:
        named = [
            code
            for (of, code), rule in book.codes.items()
            if of == unit and rule.words and rule.words.casefold() == line.strip().casefold()
        ]
        return [*(named or left), *quoted]
    meant = {
        word
        for code in found
        if (unit, code) in book.codes
        for word in book.codes[unit, code].words.casefold().split()
    }
    numbers = [w for w in left if any(c.isdigit() for c in w) and w.casefold() not in meant]
    return [*found, *numbers, *quoted]


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
