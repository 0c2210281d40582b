"""Backprobe: the one defect behind many fault codes, and the next check that finds it."""

from backprobe.base.version import VERSION

__all__ = ["__version__"]

__version__ = VERSION
