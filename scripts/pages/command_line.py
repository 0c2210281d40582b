"""docs/command-line.md: every verb with its arguments, and the exit codes."""

from __future__ import annotations

import argparse
import os
from importlib import import_module

from backprobe.cli.exits import Exit
from backprobe.cli.verbs import VERBS

HEAD = """# The command line

Everything the job sheet in the browser does, in a console. `backprobe VERB --help` prints the same
as this page, for one verb.

## A job, from complaint to repair

```text
$ backprobe start tracked-dumper "No power since it was washed, yellow lamp" --serial 4411-0187
J-0001
$ backprobe note J-0001 codes ECU stored 3509/4 157/4 102/4 94/4 91/4
$ backprobe note J-0001 "failing only when wet; failing gone, running"
$ backprobe could-be J-0001            what it could be, how likely, and why
$ backprobe check-next J-0001          what to do, what a healthy machine shows, what is left then
$ backprobe answer J-0001 4.9          what that check showed; or, whatever else was found:
$ backprobe note J-0001 "volts X10.3 0.3, key on, X10 unplugged"
$ backprobe so-far J-0001              all that was found, and what must be put back
$ backprobe put-back J-0001 X10        X10 is plugged again; without a thing: the put-back list
$ backprobe close J-0001 --done "lead replaced, sleeve at the hinge pin" --minutes 95
$ backprobe write-up J-0001            complaint, codes, cause, what was measured, proof, minutes
```

A job with something on the put-back list is closed only with a reason: `--left "waits for a plug"`.
Whatever is noted after the closing opens the job again.

What can be noted, and in which words: [findings in words](findings-in-words.md). A finding that was
wrong is taken back with `backprobe note J-0001 undo f3`; nothing is ever deleted.

Quote what the console would take for itself: `;`, `#`, `?`, `|`, quotation marks.

## Where things are kept

Books and jobs are in one file: `--shop FILE`, by default `shop.backprobe` in the user's data folder
(Windows: `%LOCALAPPDATA%\\backprobe`; macOS: `~/Library/Application Support/backprobe`; elsewhere:
`$XDG_DATA_HOME/backprobe` or `~/.local/share/backprobe`). [Jobs](jobs.md) says how safely.

## For other programs

`--json` prints the result as JSON: dataclasses as objects with the fields of the
[public names](public-names.md), SI units, an endless figure as `"inf"`. Problems then come as
`{"problems": [...]}` on the same stream. The exit code says which it is.
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
