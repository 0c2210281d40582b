"""A proposed check as the sheet shows it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final
from urllib.parse import urlencode

from backprobe.book.model import BODIES
from backprobe.book.situations import Situation
from backprobe.checks.at_step import cautions_at
from backprobe.checks.faces import faces_of
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check, Outcome, Priced
from backprobe.checks.outcomes import places_of
from backprobe.checks.places import CONDITIONS
from backprobe.checks.steps import WINDOW
from backprobe.checks.wording import listed, minutes, node_words, percent, wire_words
from backprobe.findings.model import AnyFinding
from backprobe.kinds.hazards import DEFER, HAZARDS
from backprobe.web.answers import Typed, number_of, words_of
from backprobe.web.contexts import CheckView, Choice, Oops, OutcomeView, Said, Share
from backprobe.web.face_view import plugs_view
from backprobe.web.fuse_view import checked_boxes

METERS: Final = {
    "meter": "multimeter",
    "min-max": "multimeter with min/max hold",
    "ohmmeter": "multimeter",
    "low-impedance meter": "multimeter, low impedance",
    "milliohm meter": "milliohm meter, four wires",
    "diode tester": "multimeter on diode test",
    "clamp": "DC clamp",
}
IN_BRACKETS: Final = re.compile(r" \([^()]*\)")
IN_ONE: Final = re.compile(r"(?<=\d) (?=[A-Za-z])|(?<=\u00b1) |(?<=[VAmk]) (?=DC)")
NAMED: Final = 2
FAINT: Final = 0.05
"""A group that an outcome leaves with less is not named, unless it is the first."""
PLACED: Final = ("Meter on", "Clamp on")
FAINTEST: Final = 0.001
"""A chance that is not nought, for groups below the list."""


def check_view(
    layout: Layout,
    words: Mapping[str, str],
    priced: Priced,
    *,
    likely: Mapping[str, str],
    seen: Sequence[Choice],
    key: str,
    findings: Sequence[AnyFinding] = (),
    later: str = "",
    typed: Typed | None = None,
    oops: Oops | None = None,
) -> CheckView:
    """A check in full. `words`: names of the suspect groups by key; `likely`: the likeliest fault
    of each; `seen`: codes to tick; `findings`: what fuses are drawn by; `key` tells the checks of a page apart; `typed` and `oops`: an answer that could not be used."""
    check = priced.check
    *cautions, closing = priced.cautions or (("", ""),)
    if closing[1]:
        cautions, closing = [*cautions, closing], ("", "")
    choices = words_of(check)
    named = {choice.value: choice.words for choice in choices}
    return CheckView(
        key=key,
        ident=check.id,
        title=title_of(check),
        minutes=minutes(priced.seconds),
        facts=_facts(priced, likely),
        leads=_leads(layout, check),
        boxes=checked_boxes(layout, check, findings),
        plugs=plugs_view(faces_of(layout, check), either=check.does in ("ohms", "beep")),
        steps=_steps(layout, priced),
        careful=careful(check.hazards, priced.steps),
        leads_at=next((k for k, s in enumerate(priced.steps) if s.startswith(PLACED)), -1),
        cautions=tuple(Said(name=said, words=authority) for said, authority in cautions),
        closing_caution=closing[0],
        authority=authority(check.hazards),
        healthy="" if check.does == "repair" else in_one(priced.healthy_words.rstrip(".")),
        why=tight(priced.why),
        outcomes=tuple(_outcome(words, named, one) for one in priced.outcomes),
        number=number_of(check, layout.book, typed),
        words=choices,
        codes=_codes(seen, typed),
        codes_typed=typed.codes if typed else "",
        doubt=typed.doubt if typed else False,
        later=later,
        circuit=_circuit(layout, check),
        oops=oops,
        repair=check.does == "repair",
    )


def careful(hazards: Sequence[str], steps: Sequence[str]) -> tuple[tuple[Said, ...], ...]:
    """For every step the cautions said before it."""
    return tuple(
        tuple(Said(name=words, words=authority) for words, authority in before)
        for before in cautions_at(hazards, steps)
    )


def authority(hazards: Sequence[str]) -> str:
    """Whose word the cautions are, each once; "" without any."""
    said = [HAZARDS[slug].authority for slug in hazards if slug in HAZARDS]
    return "; ".join(dict.fromkeys(one for all_ in said for one in all_.split("; ")))


def foot_of(hazards: Sequence[str]) -> str:
    """What stands below steps with cautions: whose word comes first, whose the cautions are."""
    said = authority(hazards)
    return f"{DEFER} Cautions as in: {said}." if said else ""


def _codes(seen: Sequence[Choice], typed: Typed | None) -> tuple[Choice, ...]:
    ticked = typed.ticked if typed else ()
    return tuple(replace(choice, chosen=choice.value in ticked) for choice in seen)


def title_of(check: Check) -> str:
    """What to do, without the key and load and what to watch, which stand apart."""
    if check.does == "provoke" and check.condition in CONDITIONS:
        return f"{CONDITIONS[check.condition][0]} {listed(places_of(check))}"
    bare = check.words.removesuffix("?")
    shorter = bare.removesuffix(f", {check.situation.words()}")
    if check.probe is not None:
        # the wires stand with the leads
        shorter = IN_BRACKETS.sub("", shorter)
    return f"{shorter}?" if bare != check.words else shorter


def tight(words: str) -> str:
    """Words whose per cent signs stay with their figures at the end of a line."""
    return words.replace(" %", "\u00a0%")


def in_one(words: str) -> str:
    """Words whose units stay with their figures, and a tolerance with its sign."""
    return IN_ONE.sub("\u00a0", words)


def per_cent(chance: float) -> str:
    """A chance in words that stay on one line."""
    return tight(percent(chance))


def figure(chance: float) -> str:
    """A chance as a figure of a column: "27 %", "< 1 %"."""
    return per_cent(chance or FAINTEST).replace("under ", "<\u00a0")


def rest_of(words: str, group: str) -> str:
    """A fault without the name of its group, which stands above it; "ECU.30" keeps its unit."""
    return words.removeprefix(f"{group} ")


def share_of(words: str, chance: float) -> Share:
    """A chance with its bar."""
    return Share(words=words, figure=figure(chance), width=max(1, round(100.0 * chance)))


def key_and_load(situation: Situation) -> str:
    """The key and what is switched on; what hands take off or fit is a step."""
    return Situation(key=situation.key, on=situation.on).words()


def _facts(priced: Priced, likely: Mapping[str, str]) -> tuple[Said, ...]:
    check = priced.check
    people = "1 person" if check.people == 1 else f"{check.people} people"
    facts = [Said(name="Time", words=f"{minutes(priced.seconds)}, {people}")]
    if check.does not in ("repair", "stop"):
        facts.append(Said(name="Key and load", words=key_and_load(check.situation)))
    if check.does == "repair" and check.target in likely:
        facts.append(Said(name="Likeliest", words=likely[check.target]))
    meter = METERS.get(check.instrument)
    if meter:
        setting = check.setting.removesuffix(", min/max hold")
        facts.append(
            Said(name="Meter", words=f"{meter}, on {in_one(setting)}" if setting else meter)
        )
    return tuple(facts)


def _steps(layout: Layout, priced: Priced) -> tuple[str, ...]:
    """Steps without the healthy value and without the places of the leads, which stand apart."""
    tail, leads = priced.healthy_words, [lead.words for lead in _leads(layout, priced.check)]
    steps = [step.removesuffix(tail).rstrip() if tail else step for step in priced.steps]
    if len(leads) == 2:
        steps = [_leads_apart(step, *leads) for step in steps]
    return tuple(steps)


def _leads_apart(step: str, red: str, black: str) -> str:
    """A step that says where the leads go, by how they touch alone."""
    at = f"(on|back-probed at|{WINDOW} [^:]*:)"
    told = re.fullmatch(
        rf"(Meter on .*), black lead {at} {re.escape(black)}, {at.join(('red lead ', ' '))}"
        rf"{re.escape(red)}\.(.*)",
        step,
    )
    if told is None:
        both = f"one lead on {red}, the other on {black}."
        return step.replace(both, "then the leads as below.")
    meter, how_black, how_red, more = told.groups()
    leads = (("red", how_red), ("black", how_black))
    probed = [name for name, how in leads if how.startswith("back-probed")]
    how = f", {listed(probed)} back-probed" if probed else ""
    windows = [f", {name} {how[:-1]}" for name, how in leads if how.startswith(WINDOW)]
    return f"{meter}, leads as below{how}{''.join(windows)}.{more}"


def _leads(layout: Layout, check: Check) -> tuple[Said, ...]:
    probe = check.probe
    if probe is None or probe.kind == "inner":
        return ()
    if check.does == "amps":
        return (Said(name="Clamp", words=f"{wire_words(layout, probe.p) or probe.p}, alone"),)
    first, second = ("One", "Other") if check.does == "ohms" else ("Red", "Black")
    return (
        Said(name=first, words=node_words(layout, probe.p)),
        Said(name=second, words=node_words(layout, probe.n)),
    )


def _circuit(layout: Layout, check: Check) -> str:
    """Where the circuit page shows the place of the red lead, in the key and load of the check."""
    probe = check.probe
    known = probe is not None and (probe.p in layout.touch or probe.p in BODIES)
    if probe is None or not known or not _leads(layout, check):
        return ""
    on = [("on", name) for name in sorted(check.situation.on)]
    return f"{urlencode([('key', check.situation.key), *on, ('pin', probe.p)])}#pin"


def _outcome(words: Mapping[str, str], named: Mapping[str, str], outcome: Outcome) -> OutcomeView:
    said = named.get(outcome.word, outcome.word) or outcome.words.split(": ", maxsplit=1)[0]
    return OutcomeView(
        said=said,
        word=outcome.word if outcome.word in named else "",
        figure=figure(outcome.chance),
        leaves=tuple(
            share_of(words.get(group, group), chance)
            for number, (group, chance) in enumerate(outcome.leaves[:NAMED])
            if chance >= FAINT or not number
        ),
    )
