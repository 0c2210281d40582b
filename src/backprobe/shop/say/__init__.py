"""Findings in plain words: `hear` turns a typed line into findings, `told` a finding into a line."""

from backprobe.shop.say.hear import hear
from backprobe.shop.say.tell import told

__all__ = ["hear", "told"]
