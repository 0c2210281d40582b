"""The demo shop's data: wiring books as text and demo jobs as plain findings."""

from backprobe.shop.demo.books import BOOKS, book_text
from backprobe.shop.demo.jobs import JOBS, DemoJob, Truth

__all__ = ["BOOKS", "JOBS", "DemoJob", "Truth", "book_text"]
