"""The generated reference of kinds."""

from __future__ import annotations

from backprobe.kinds import HAZARDS, KINDS, ROLES
from backprobe.kinds.reference import kinds_reference

TEXT = kinds_reference()


def test_every_kind_role_and_hazard_has_its_place() -> None:
    for name in (*KINDS, *ROLES):
        assert f"### {name}\n" in TEXT
    for slug in HAZARDS:
        assert f"| {slug} |" in TEXT


def test_every_attribute_stands_with_unit_default_and_source() -> None:
    assert (
        "| **amps** | A | 10 | 1 to 120 | rating printed on it | common practice, no source |"
        in TEXT
    )
    assert "| ohm | ohm | 0.0077 | 0.0001 to 1 | cold resistance | Littelfuse 287 sheet;" in TEXT
    for kind in KINDS.values():
        section = TEXT.split(f"### {kind.name}\n")[1].split("\n### ")[0]
        for attribute in kind.attributes:
            assert f"| {attribute.name} |" in section or f"| **{attribute.name}** |" in section


def test_tables_keep_their_columns() -> None:
    for line in TEXT.splitlines():
        if line.startswith("|"):
            assert line.count("|") in (4, 5, 7), line


def test_the_page_is_the_same_each_time() -> None:
    assert kinds_reference() == TEXT
    assert TEXT.endswith("\n")
    assert not TEXT.endswith("\n\n")
