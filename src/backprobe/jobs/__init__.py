"""Jobs that survive: books and append-only events in a database file. The only room with SQL."""

from backprobe.jobs.errors import StoreError
from backprobe.jobs.store import BookRow, EventRow, JobRow, Store

__all__ = ["BookRow", "EventRow", "JobRow", "Store", "StoreError"]
