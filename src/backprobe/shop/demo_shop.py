"""Fills a shop with the demo books and jobs."""

from __future__ import annotations

from backprobe.shop.demo import BOOKS, JOBS, book_text
from backprobe.shop.workshop import Shop


def fill(shop: Shop) -> tuple[str, ...]:
    """Add the demo books and jobs that are not there yet; returns the ids of the new jobs.

    What is there already, and what was noted on it, stays as it is.
    """
    known = shop.books()
    for name in BOOKS:
        if name not in known:
            shop.add_book(name, book_text(name))
    there = {(row.serial, row.complaint) for row in shop.jobs()}
    return tuple(
        shop.start_job(
            job.book,
            job.complaint,
            serial=job.serial,
            hours=job.hours,
            findings=job.arrival,
        )
        for job in JOBS
        if (job.serial, job.complaint) not in there
    )
