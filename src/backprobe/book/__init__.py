"""The wiring book: text in, checked frozen objects out, text out; situations.

read_book          a text to a completed book, with everything found wrong with it
canonical          a text in its tidy spelling, comments and order kept
attributes_of      what was typed of a part, over the defaults of its kind
role_attributes    likewise, of what stands behind a unit's pin
group_attributes   likewise, of a unit's 5 V group
"""

from backprobe.book.canonical import canonical
from backprobe.book.read import read_book
from backprobe.book.values import attributes_of, group_attributes, role_attributes

__all__ = ["attributes_of", "canonical", "group_attributes", "read_book", "role_attributes"]
