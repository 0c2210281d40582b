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


VERBS: Sequence[Verb] = ()
