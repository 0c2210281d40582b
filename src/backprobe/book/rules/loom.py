"""Rules about the loom."""

from __future__ import annotations

from backprobe.book.loom import places
from backprobe.book.rules.context import Checked, spot_of


def section_not_passed(checked: Checked) -> None:
    """A wire said to be in a section it does not run through from end to end."""
    draft = checked.draft
    where = places(draft)
    for hop in draft.hops:
        known = [draft.sections[name] for name in hop.stated if name in draft.sections]
        ends = {where.get(end.part, end.part) for end in (hop.a, hop.b)}
        for section in known:
            near = ends | {
                end for other in known if other is not section for end in (other.a, other.b)
            }
            if not near & {section.a, section.b}:
                checked.report.add(
                    "section-not-passed", spot_of(hop, section.name), wire=hop.id,
                    section=section.name, a=section.a, b=section.b,
                )  # fmt: skip
