"""Recordings of the machine's bus: read, dirty rows and all, and turned into findings."""

from backprobe.logs.codes import CodeSeen, UnitCodes, active_codes, codes_found
from backprobe.logs.parameters import Series, values
from backprobe.logs.read import read_recording
from backprobe.logs.recording import DirtyRow, Frame, Recording

__all__ = [
    "CodeSeen",
    "DirtyRow",
    "Frame",
    "Recording",
    "Series",
    "UnitCodes",
    "active_codes",
    "codes_found",
    "read_recording",
    "values",
]
