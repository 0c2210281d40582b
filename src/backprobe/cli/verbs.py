"""The verbs of the command line, as a table, so that `--help` imports nothing else."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class Verb:
    """One verb: `backprobe NAME`. `module` is imported only when the verb is used and holds
    two functions, `arguments` and `run` (see VerbModule)."""

    name: str
    words: str
    module: str


class VerbModule(Protocol):
    """What the module of a verb offers."""

    @staticmethod
    def arguments(parser: argparse.ArgumentParser) -> None:
        """Declare the arguments of the verb."""

    @staticmethod
    def run(options: argparse.Namespace) -> int:
        """Do it and return an exit code (backprobe.cli.exits)."""


def _verb(name: str, words: str) -> Verb:
    return Verb(name=name, words=words, module=f"backprobe.cli.{name.replace('-', '_')}")


VERBS: Sequence[Verb] = (
    _verb("demo", "serve the demo shop: invented machine, three jobs"),
    _verb("serve", "serve the shop's job sheets to a browser"),
    _verb("proofread", "check a wiring book: its problems and what had to be assumed"),
    _verb("tidy", "print a wiring book in its tidy spelling"),
    _verb("keep", "keep a wiring book in the shop"),
    _verb("books", "list the shop's wiring books"),
    _verb("can-break", "list what can be wrong at a part, plug, wire or loom section"),
    _verb("expect", "what a reading would be, healthy or with a defect"),
    _verb("start", "start a job"),
    _verb("jobs", "list the jobs"),
    _verb("note", "note what was found, in plain words"),
    _verb("so-far", "what was found on a job, and what must be put back"),
    _verb("could-be", "what it could be, how likely, and why"),
    _verb("where", "where along the loom a wire is rubbed through, and how to range it"),
    _verb("check-next", "what to check next, what to expect, what each outcome leaves"),
    _verb("answer", "note what the proposed check showed"),
    _verb("put-back", "what must be put back; take a thing off that list"),
    _verb("close", "close a job: cause, what was done, parts, minutes, what stays as it is"),
    _verb("write-up", "the write-up of a job, as text"),
    _verb("recording", "the fault codes in a bus recording; take them into a job"),
)
