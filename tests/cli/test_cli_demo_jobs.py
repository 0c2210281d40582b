"""The demo jobs worked on the command line by following its proposals, one answer at a time."""

from __future__ import annotations

from math import isinf
from pathlib import Path

import numpy as np
import pytest

from backprobe.checks.model import Check
from backprobe.cli.exits import Exit
from backprobe.shop.answer import Answer
from backprobe.shop.demo import JOBS, DemoJob
from backprobe.shop.workshop import Shop
from oracles.technician import Machine

pytestmark = pytest.mark.slow

UNITS = {"volts": "V", "drop": "V", "lamp": "V", "millivolts": "V", "ohms": "ohm", "amps": "A"}


def typed(check: Check, answer: Answer) -> str:
    """What the technician types after `backprobe answer JOB`."""
    if answer.codes is not None:
        return " ".join(answer.codes) or "none"
    if answer.value is None:
        return answer.word
    if isinf(answer.value):
        return "OL"
    return f"{answer.value:.4f} {UNITS.get(check.does, '')}".strip()


def machine_of(job: DemoJob, shop: Shop, ident: str) -> Machine:
    """The machine with the job's hidden defect; gone when it comes and goes."""
    circuit = shop.card(ident).job.circuit
    defects = circuit.defects
    atom = next(k for k, atom in enumerate(defects.atoms) if atom.id == job.truth.atom)
    row = next(
        int(r)
        for r in np.flatnonzero(defects.atom_of == atom)
        if np.isclose(defects.ohm[r], job.truth.ohm)
    )
    gone = any(getattr(f, "answer", "") == "gone" for f in job.arrival)
    places = tuple(place for place in (job.truth.spot, *_section(circuit, job)) if place)
    return Machine(
        circuit=circuit, truth=row, gone=gone, places=places, condition=job.truth.condition
    )


def _section(circuit, job: DemoJob) -> tuple[str, ...]:
    spot = circuit.book.spots.get(job.truth.spot)
    return (spot.section,) if spot else ()


def test_after_washing_is_found_in_five_checks_and_25_minutes(command, shop: Path) -> None:
    """Job (a): five codes, gone now; to the right lead by doing what is proposed."""
    job = next(job for job in JOBS if job.name == "after-washing")
    desk = Shop.open(shop)
    machine = machine_of(job, desk, "J-0001")
    seconds, checks = 0.0, []
    while len(checks) < 6:
        offer = desk.card("J-0001").job.next_checks[0]
        if offer.check.does in ("repair", "stop"):
            break
        answer = machine.answer(offer.check)
        if offer.check.does == "provoke" and answer.word.startswith("it shows"):
            machine.gone = False
        said = command("answer", "J-0001", typed(offer.check, answer), "--shop", shop)
        assert said.code == Exit.DONE, said.err
        seconds += offer.seconds
        checks.append(f"{offer.check.words} -> {typed(offer.check, answer)}")
    desk.close()
    print(f"{len(checks)} checks, {seconds / 60:.0f} min: {checks}")
    verdict = command("could-be", "J-0001", "--shop", shop, "--json").json
    assert verdict["suspects"][0]["group"] == machine.group == "wire 41a (ECU to X10)"
    assert len(checks) <= 5
    assert round(seconds / 60) <= 25


@pytest.mark.parametrize("number", [1, 2, 3])
def test_every_demo_job_is_told_in_full(command, shop: Path, number: int) -> None:
    could = command("could-be", number, "--why", "--shop", shop)
    assert could.code == Exit.DONE
    assert "not in this book" in could.out
    found = command("could-be", number, "--shop", shop, "--json").json["suspects"]
    assert sum(suspect["chance"] for suspect in found) > 0.5
    assert all(suspect["reasons"] for suspect in found[:3])
    following = command("check-next", number, "--shop", shop)
    assert following.code == Exit.DONE
    assert "if it shows" in following.out
    offers = command("check-next", number, "--shop", shop, "--json").json["next"]
    assert 1 <= len(offers) <= 3
    for offer in offers:
        assert offer["steps"]
        assert offer["seconds"] > 0.0


def test_error_an_answer_that_does_not_fit_names_those_that_do(command, shop: Path) -> None:
    offer = command("check-next", "1", "--shop", shop, "--json").json["next"][0]
    words = [outcome["word"] for outcome in offer["outcomes"]]
    said = command("answer", "1", "perhaps", "--shop", shop)
    assert said.code == Exit.REFUSED
    known = (
        ", ".join(repr(word) for word in words)
        if all(words)
        else "a reading such as 4.9, 85 mV, OL, or 4.9..0.2 when it jumps"
    )
    assert said.err == (
        f"error: 'perhaps' does not answer: {offer['check']['words']} [answer-does-not-fit]\n"
        "  why: Each check has its own outcomes; another word could be taken for the wrong one.\n"
        f"  do:  Answer with {known}. Anything else that was found: backprobe note JOB WORDS\n"
    )


def test_error_a_check_that_was_not_offered(command, shop: Path) -> None:
    count = len(command("check-next", "1", "--shop", shop, "--json").json["next"])
    said = command("answer", "1", "4.9", "--of", "9", "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: There is no proposed check 9 on J-0001. [check-not-offered]\n"
        f"  why: {count} {'is' if count == 1 else 'are'} proposed now.\n"
        "  do:  See them: backprobe check-next J-0001\n"
    )
