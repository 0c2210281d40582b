"""What the exit code of `backprobe` means."""

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes. 1 is Python's own: a defect in the tool, printed with its traceback."""

    DONE = 0
    BUG = 1
    USAGE = 2
    PROBLEMS = 3
    REFUSED = 4
    INTERRUPTED = 130

    @property
    def meaning(self) -> str:
        """One sentence for the manual and for `backprobe --help`."""
        return {
            Exit.DONE: "done",
            Exit.BUG: "a defect in backprobe itself; the traceback says where",
            Exit.USAGE: "the command line was not understood",
            Exit.PROBLEMS: "the book, the job or the recording has errors; they are listed",
            Exit.REFUSED: "not possible here: no such file or job, port taken, disk full",
            Exit.INTERRUPTED: "stopped with Ctrl+C before it was done",
        }[self]
