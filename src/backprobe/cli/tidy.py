"""`backprobe tidy FILE`: a wiring book in its tidy spelling, comments and order kept."""

from __future__ import annotations

import argparse
import os
import shutil
from pathlib import Path

from backprobe.book import canonical, read_book
from backprobe.cli.common import RefusedError, file_text, guarded, json_option, refused, show
from backprobe.cli.exits import Exit


def arguments(parser: argparse.ArgumentParser) -> None:
    """FILE, --write and --json."""
    parser.add_argument("file", help="the wiring book, a text file")
    parser.add_argument(
        "--write", action="store_true", help="write it back into the file instead of printing it"
    )
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print or write the tidy text; 3 when the book has errors."""
    return guarded(options, _run)


def _replaced(file: Path, text: str) -> None:
    """Writes a file anew, beside it first: a full disk leaves the old text whole."""
    file = file.resolve()
    file.open("r+b").close()  # one that is read-only stays as it is, whatever its folder allows
    fresh = file.with_name(f".{file.name}.tidy")
    try:
        with fresh.open("w", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        shutil.copymode(file, fresh)
        fresh.replace(file)
    except OSError:
        fresh.unlink(missing_ok=True)
        raise


def _run(options: argparse.Namespace) -> int:
    content = file_text(options.file)
    name = Path(options.file).name
    book, problems = read_book(content, name)
    if book is None:
        raise RefusedError(*problems, code=Exit.PROBLEMS)
    text = canonical(content)
    if not options.write:
        return show(options, {"book": name, "text": text}, text.rstrip("\n"))
    changed = text.encode() != content
    if changed:
        try:
            _replaced(Path(options.file), text)
        except OSError as error:
            raise refused(
                "file-unwritable",
                f"The file {options.file} cannot be written: {str(error.strerror).lower()}.",
                "It or its folder is read-only, or the disk is full; it holds the old text still.",
                "Allow writing to it, or print the text and save it elsewhere.",
            ) from error
    words = f"{name}: written in its tidy spelling." if changed else f"{name}: tidy already."
    return show(options, {"book": name, "changed": changed}, words)
