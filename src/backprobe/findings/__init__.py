"""What is known about a job: findings, and how they fold into visits and a put-back list."""

from backprobe.findings.fold import fold
from backprobe.findings.model import AnyFinding, Finding, JobState

__all__ = ["AnyFinding", "Finding", "JobState", "fold"]
