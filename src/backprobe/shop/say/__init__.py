"""Findings in plain words.

hear     a typed text to findings, or to what is wrong with it
asked    a reading asked for ("volts X10.3, key on") to a probe and its situation
told     a finding to a line that hear reads back
"""

from backprobe.shop.say.ask import Asked, asked
from backprobe.shop.say.hear import hear
from backprobe.shop.say.tell import situation_told, told

__all__ = ["Asked", "asked", "hear", "situation_told", "told"]
