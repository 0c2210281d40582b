"""The loom to scale: geometry, and the chance that is laid along it."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.defects.model import Atom, PlaceShare
from backprobe.shop.predicted import Leading
from backprobe.web.loom_view import DESK, PHONE
from backprobe.web.pictures.along import Along, along, place_of
from backprobe.web.pictures.loom import LINE, MARGIN, WORDS, Loom, fitted, loom_of
from backprobe.web.pictures.loom_svg import loom_svg
from backprobe.web.pictures.text import width
from web.picture_tools import Shape, meet, wiring

DUMPER = wiring("tracked-dumper").layout.book


def fault(group: str, *places: PlaceShare, owners: tuple[str, ...] = ()) -> Atom:
    return Atom(
        id=group, words=group, kind="x", group=group, owners=owners, rate=1.0, source="test",
        places=places,
    )  # fmt: skip


def suspect(*faults: tuple[Atom, float]) -> Leading:
    total = sum(chance for _, chance in faults)
    return Leading(group="g", words="g", chance=total, faults=faults, hypothesis=1)


def spot(name: str, section: str, share: float) -> PlaceShare:
    return PlaceShare(words=name, section=section, at_m=0.3, share=share)


def words_of(loom: Loom) -> list[Shape]:
    """Room of all words, by the widths the drawing counts with."""
    found = []
    for row in loom.rows:
        for number, line in enumerate(row.words):
            y = row.words_y + number * LINE
            x = row.x0 + WORDS
            found.append((x, y - 11.0, x + width(line, bold=not number), y + 3.0))
        for one in row.named:
            x = one.x + WORDS
            found.append((x, one.y - 11.0, x + width(one.words, bold=True), one.y + 3.0))
    return found


def faults_of_loom(loom: Loom) -> list[str]:
    words = words_of(loom)
    found = [f"words on words at {a}" for a, b in combinations(words, 2) if meet(a, b)]
    lines: list[Shape] = [
        (row.x0 - 2.5, row.up, row.x0 + 2.5, row.y) for row in loom.rows if row.up is not None
    ]
    bars: list[Shape] = [(row.x0, row.y - 4.0, row.x1, row.y + 4.0) for row in loom.rows]
    lines += bars
    lines += [(one.x - 1, one.y, one.x + 1, row.y) for row in loom.rows for one in row.named]
    found += [f"a line through words at {a}" for a in words for b in lines if meet(a, b)]
    found += [f"loom on loom at {a}" for a, b in combinations(bars, 2) if meet(a, b)]
    wide = max([x1 for _, _, x1, _ in words], default=0.0)
    found += ["words outside"] if wide > loom.width else []
    return found


@given(data=st.data())
def test_nothing_lies_on_anything_else_and_all_is_to_scale(data: st.DataObject) -> None:
    some = data.draw(st.lists(st.sampled_from(list(DUMPER.sections)), max_size=5, unique=True))
    spots = data.draw(st.lists(st.sampled_from(list(DUMPER.spots)), max_size=4, unique=True))
    places = [name for s in DUMPER.sections.values() for name in (s.a, s.b)]
    ends = data.draw(st.lists(st.sampled_from(places), max_size=3, unique=True))
    chances = Along(
        spread=dict.fromkeys(some, 0.1),
        spots={(DUMPER.spots[name].section, name): 0.1 for name in spots},
        ends={(place, place): 0.1 for place in ends},
    )
    metre = data.draw(st.sampled_from([20.0, 44.0, 150.0]))
    loom = loom_of(DUMPER, chances, metre=metre, room=300.0)
    assert faults_of_loom(loom) == []
    by_far = {row.far: row for row in loom.rows}
    for row in loom.rows:
        assert row.x1 - row.x0 == pytest.approx(row.section.length_m * metre)
        near = row.section.a if row.far == row.section.b else row.section.b
        begins = by_far[near].x1 if row.up is not None else MARGIN
        assert row.x0 == pytest.approx(begins)
    drawn = {row.section.name for row in loom.rows}
    assert drawn >= {*some, *(DUMPER.spots[name].section for name in spots)}
    told = [one.words for row in loom.rows for one in row.named]
    assert all(sum(words.startswith(name) for words in told) >= 1 for name in spots)
    assert sorted(words for words in told if words in ends) == sorted(ends)


def test_without_any_chance_the_whole_loom_is_drawn() -> None:
    loom = loom_of(DUMPER, Along(), metre=40.0, room=300.0)
    assert {row.section.name for row in loom.rows} == set(DUMPER.sections)


def test_sections_between_suspects_join_them() -> None:
    chances = Along(spread={"hinge": 0.3, "beacon pole": 0.1})
    loom = loom_of(DUMPER, chances, metre=40.0, room=300.0)
    assert {row.section.name for row in loom.rows} == {
        "hinge", "console riser", "console loom", "beacon lead", "beacon pole",
    }  # fmt: skip


def test_the_chance_goes_to_spots_stretches_and_ends() -> None:
    rubbed = fault("wire 41a", spot("hinge pin", "hinge", 0.75), spot("somewhere", "hinge", 0.25))
    cut = fault("loom", owners=("seat lead",))
    shorted = fault("rail sensor", owners=("rail sensor",))
    strap = fault("engine strap", owners=("engine strap",))
    laid = along(
        DUMPER, [suspect((rubbed, 0.4), (cut, 0.1)), suspect((shorted, 0.2), (strap, 0.3))]
    )
    assert laid.spots == {("hinge", "hinge pin"): pytest.approx(0.3)}
    assert laid.spread == {"hinge": pytest.approx(0.1), "seat lead": pytest.approx(0.1)}
    assert laid.ends == {("rail sensor", "rail sensor"): pytest.approx(0.2)}
    assert laid.off == {"engine strap": pytest.approx(0.3)}
    assert laid.of_section("hinge") == pytest.approx(0.4)


@given(shares=st.lists(st.floats(0.01, 1.0), min_size=1, max_size=6), chance=st.floats(0.01, 1.0))
def test_no_chance_is_lost_on_the_way(shares: list[float], chance: float) -> None:
    names = [*DUMPER.spots.values()]
    places = [
        spot(names[k].name, names[k].section, share / sum(shares)) for k, share in enumerate(shares)
    ]
    laid = along(DUMPER, [suspect((fault("wire", *places), chance))])
    total = [*laid.spread.values(), *laid.spots.values(), *laid.ends.values(), *laid.off.values()]
    assert sum(total) == pytest.approx(chance)


def test_a_part_sits_at_the_place_its_words_begin_with() -> None:
    places = {end for s in DUMPER.sections.values() for end in (s.a, s.b)}
    assert place_of(DUMPER, "F5", places) == "fuse box"
    assert place_of(DUMPER, "X10", places) == "X10"
    assert place_of(DUMPER, "engine strap", places) == ""


def test_the_hinge_pin_stands_where_a_tape_measure_says() -> None:
    """The book: hinge is 0.9 m from the fuse box to X10, the pin at 0.55 m."""
    loom = loom_of(DUMPER, Along(spread={"hinge": 0.5}), metre=100.0, room=300.0)
    (row,) = loom.rows
    pin = next(one for one in row.named if one.words.startswith("hinge pin"))
    from_box = pin.x - row.x0 if row.section.b == row.far else row.x1 - pin.x
    assert from_box == pytest.approx(55.0)


def test_it_fits_the_screen_it_is_made_for_and_is_the_same_every_time() -> None:
    chances = Along(spread={"hinge": 0.3, "beacon pole": 0.1})
    for room, metres in (DESK, PHONE):
        loom = fitted(DUMPER, chances, room, metres)
        assert loom.width <= room + MARGIN
        again = fitted(DUMPER, chances, room, metres)
        assert loom_svg(loom, key="l", title="Loom") == loom_svg(again, key="l", title="Loom")
