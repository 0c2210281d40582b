"""The entry point: `backprobe VERB ...` or `python -m backprobe.cli VERB ...`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from typing import cast

from backprobe.base.version import VERSION
from backprobe.cli.exits import Exit
from backprobe.cli.typed import letters
from backprobe.cli.verbs import VERBS, VerbModule


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    Raises SystemExit(2) when the line is not understood, SystemExit(0) for --help.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # a console or pipe with an old code page shows "?" instead of giving up
            stream.reconfigure(errors="replace")
    words = [_figure(_readable(word)) for word in (sys.argv[1:] if argv is None else argv)]
    modules: dict[str, VerbModule] = {}
    parser = _parser(asked=words[0] if words else "", modules=modules)
    options = parser.parse_args(words)
    if not options.verb:
        parser.print_help()
        return Exit.USAGE
    try:
        return modules[options.verb].run(options)
    except BrokenPipeError:
        # the reader (head, a pager) has gone; nothing more may be written, not even at exit
        sys.stdout = None
        return Exit.DONE
    except KeyboardInterrupt:
        return Exit.INTERRUPTED


def _readable(word: str) -> str:
    """What was typed on a console with an old code page, as letters; the name of a file stays as it is."""
    try:
        word.encode()
    except UnicodeEncodeError:
        return word if Path(word).exists() else letters(word)
    return word


def _figure(word: str) -> str:
    """A figure below zero ("-0.2,") set apart, so that it is not taken for an option."""
    return f" {word}" if word[:1] == "-" and word[1:2].isdigit() else word


def _parser(*, asked: str, modules: dict[str, VerbModule]) -> argparse.ArgumentParser:
    """The parser. Only the module of the verb that is asked for is imported, into `modules`."""
    parser = argparse.ArgumentParser(
        prog="backprobe",
        description="Finds the one defect behind many fault codes, and says what to check next.",
        epilog="exit codes:\n" + "\n".join(f"  {code.value}  {code.meaning}" for code in Exit),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"backprobe {VERSION}")
    subparsers = parser.add_subparsers(dest="verb", metavar="VERB", title="verbs")
    for verb in VERBS:
        branch = subparsers.add_parser(verb.name, help=verb.words, description=verb.words)
        if verb.name == asked:
            module = cast("VerbModule", import_module(verb.module))
            module.arguments(branch)
            modules[verb.name] = module
    return parser


if __name__ == "__main__":
    sys.exit(main())
