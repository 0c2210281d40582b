"""docs/command-line.md: every verb with its arguments, and the exit codes."""

from __future__ import annotations

import argparse
import os
from importlib import import_module

from backprobe.cli.exits import Exit
from backprobe.cli.verbs import VERBS

HEAD = """# The command line

`backprobe VERB --help` prints the same as this page, for one verb.
"""


def text() -> str:
    """The whole page."""
    # argparse breaks lines at the width of the terminal; the page must not depend on it.
    os.environ["COLUMNS"] = "90"
    parts = [HEAD]
    for verb in VERBS:
        parser = argparse.ArgumentParser(prog=f"backprobe {verb.name}", description=verb.words)
        import_module(verb.module).arguments(parser)
        parts.append(f"## {verb.name}\n\n```text\n{parser.format_help().rstrip()}\n```\n")
    rows = "\n".join(f"| {code.value} | {code.meaning} |" for code in Exit)
    parts.append(f"## Exit codes\n\n| code | meaning |\n|---|---|\n{rows}\n")
    return "\n".join(parts)
