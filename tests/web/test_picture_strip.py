"""The circuit strip: geometry that holds for any neighbourhood of any book."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.defects.pairs import both
from backprobe.defects.predict import Circuit
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import start
from backprobe.shop.predicted import Leading, leading
from backprobe.web.pictures.circuit import PHONE_WIDTH, strips_of
from backprobe.web.pictures.circuit_svg import Shown, circuit_svg
from backprobe.web.pictures.colours import SHADES, shades
from backprobe.web.pictures.fold import folded
from backprobe.web.pictures.nearby import Mark, Marks, nearby
from backprobe.web.pictures.paths import net_of
from backprobe.web.pictures.strip import strip_of, whole
from backprobe.web.pictures.suspected import marks_of
from backprobe.web.pictures.text import fitting, lines, width
from backprobe.web.pictures.wiring import Node
from web.picture_tools import faults_of, wiring

BOOKS = (
    "tracked-dumper", "generic", "unplugged-sensor", "synthetic 200 1", "synthetic 400 2",
    "synthetic 400 3", "synthetic 800 4",
)  # fmt: skip


def suspected(data: st.DataObject, book: str) -> Marks:
    """Some wires and parts of a book as suspects."""
    known = wiring(book).layout.book
    wires = data.draw(st.lists(st.sampled_from(list(known.wires)), max_size=5, unique=True))
    parts = data.draw(
        st.lists(st.sampled_from(list(known.parts)), min_size=not wires, max_size=3, unique=True)
    )
    marks = {name: Mark(number=k, chance=0.5 / k) for k, name in enumerate([*wires, *parts], 1)}
    return Marks(wires={w: marks[w] for w in wires}, parts={p: marks[p] for p in parts})


@settings(max_examples=150)
@given(data=st.data(), book=st.sampled_from(BOOKS))
def test_nothing_lies_on_anything_else_in_any_neighbourhood(data: st.DataObject, book: str) -> None:
    marks = suspected(data, book)
    strips = strips_of(wiring(book), marks)
    assert faults_of(strips.desk) == []
    assert faults_of(strips.phone) == []
    for strip in (strips.desk, strips.phone):
        assert not [box for box in strip.boxes if "\u2026" in "".join(box.words)]
        for run in strip.runs:
            wire = run.link.wire
            printed = (wire.name or wire.id) if wire else ""
            assert "".join(run.words[: run.names]).replace(" ", "") == printed.replace(" ", "")
    drawn = [run.link.ident for run in strips.desk.runs]
    assert len(drawn) == len(set(drawn))
    assert set(marks.wires) <= set(drawn)
    assert len({box.piece.part for box in strips.desk.boxes}) <= 40
    assert len({box.piece.part for box in strips.phone.boxes}) <= 10
    assert strips.phone.width <= PHONE_WIDTH or len(strips.phone.runs) == 1


@settings(max_examples=40)
@given(data=st.data(), book=st.sampled_from(BOOKS))
def test_every_way_leads_from_a_bar_to_a_lower_one(data: st.DataObject, book: str) -> None:
    links = nearby(wiring(book), suspected(data, book), most_parts=40, most_links=70)
    net = net_of(wiring(book), links)
    place = {bar: number for number, bar in enumerate(net.bars)}
    assert all(place[path.top] < place[path.bottom] for path in net.paths)
    walked = [link.ident for path in net.paths for link in path.links]
    assert sorted(walked) == sorted(link.ident for link in links)
    for path in net.paths:
        assert len(path.between) == len(path.links) - 1
        for (_, low), (high, _) in zip(path.ends, path.ends[1:], strict=False):
            assert low.part == high.part


@pytest.mark.slow
@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
def test_demo_jobs_are_drawn_with_every_suspected_wire(job) -> None:
    book, _ = read_book(book_text(job.book), job.book)
    suspects = leading(start(book).note(*job.arrival))
    known = wiring(job.book)
    marks = marks_of(book, suspects)
    strips = strips_of(known, marks)
    assert faults_of(strips.desk) == []
    assert faults_of(strips.phone) == []
    named = {atom.owners[0] for one in suspects[:5] for atom, _ in one.faults}
    wanted = {owner.removeprefix("wire ") for owner in named if owner.startswith("wire ")}
    assert wanted <= {run.link.ident for run in strips.desk.runs}
    assert {run.link.ident for run in strips.desk.runs if run.mark} == set(marks.wires)
    falls = [known.level[run.high] - known.level[run.low] for run in strips.desk.runs]
    assert min(falls) >= 0.0


def test_of_two_faults_each_contact_is_marked() -> None:
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")
    atoms = Circuit.of(book).defects.atoms
    lug = next(one for one in atoms if one.id.startswith("contact battery") and "<" in one.id)
    way = next(one for one in atoms if one.id.startswith("contact X10."))
    off = next(one for one in atoms if one.id == "plug X4/off")
    wire = lug.id.partition("<")[2].removesuffix(">")
    pin = way.id.rpartition(".")[2]
    for one, two, plug in ((lug, way, ""), (way, lug, ""), (lug, off, "X4"), (off, lug, "X4")):
        pair = both(one, two, rate=1.0, source="")
        suspect = Leading(
            group=pair.group, words="", chance=0.5, faults=((pair, 1.0),), hypothesis=0
        )
        marks = marks_of(book, [suspect])
        assert set(marks.lugs) == {("battery", wire)}
        assert set(marks.contacts) == (set() if plug else {("X10", pin)})
        assert set(marks.parts) == ({plug} if plug else set())
        assert wire in {
            run.link.ident for run in strips_of(wiring("tracked-dumper"), marks).desk.runs
        }


def test_the_same_job_gives_the_same_bytes() -> None:
    marks = Marks(wires={"41a": Mark(number=1, chance=0.3)})
    drawn = [
        circuit_svg(known, strips_of(known, marks).desk, Shown(), key="c", title="Circuit")
        for known in (wiring("tracked-dumper"), wiring.__wrapped__("tracked-dumper"))
    ]
    assert drawn[0] == drawn[1]
    assert drawn[0].startswith("<svg ")


def test_nothing_suspected_is_an_empty_drawing() -> None:
    strips = strips_of(wiring("tracked-dumper"), Marks())
    assert strips.desk.runs == strips.phone.runs == ()


def test_a_plug_alone_is_drawn_with_its_ways() -> None:
    desk = strips_of(wiring("tracked-dumper"), Marks(parts={"X7": Mark(number=1, chance=0.9)})).desk
    assert {run.link.ident for run in desk.runs} >= {"31b", "31c"}
    assert [box.mark.number for box in desk.boxes if box.piece.key == "X7.1" and box.mark] == [1]


def test_the_5_volt_feed_is_drawn_with_what_hangs_on_it() -> None:
    known = wiring("tracked-dumper")
    marks = Marks(wires={"41a": Mark(number=1, chance=0.3)})
    desk = strips_of(known, marks).desk
    parts = {box.piece.part for box in desk.boxes}
    assert parts == {
        "ECU", "X10", "SP1", "SPG1", "rail sensor", "boost sensor", "fuel pressure sensor",
    }  # fmt: skip
    units = [box for box in desk.boxes if box.piece.part == "ECU"]
    feeds = [box for box in units if not any(pin.above for pin in box.pins)]
    assert [pin.name for box in feeds for pin in box.pins] == ["44"]
    returns = {pin.name for box in units if box not in feeds for pin in box.pins}
    assert returns == {"46", "21", "22", "24"}


def test_a_box_that_a_foreign_wire_would_cross_is_drawn_in_pieces() -> None:
    names = ("pump 1", "main stud", "bus 2", "SP1")
    marks = Marks(
        wires={"62": Mark(number=1, chance=0.1)},
        parts={name: Mark(number=k, chance=0.1) for k, name in enumerate(names, 1)},
    )
    known = wiring("synthetic 400 7")
    strip = strip_of(known, nearby(known, marks, most_parts=40, most_links=70), marks)
    again = [box.piece.key for box in strip.boxes if box.again]
    assert len(again) == len(strip.dotted) == 1
    assert faults_of(strip) == []


def test_bars_in_each_others_way_stand_below_each_other() -> None:
    """Found by a search over random neighbourhoods: two units whose paths interleave."""
    names = ("215", "156", "240", "187", "63", "SPL 2")
    marks = Marks(
        wires={name: Mark(number=k, chance=0.1) for k, name in enumerate(names[:5], 1)},
        parts={"SPL 2": Mark(number=1, chance=0.1)},
    )
    desk = strips_of(wiring("synthetic 800 8"), marks).desk
    assert faults_of(desk) == []
    assert {"U1", "U2"} <= {box.piece.part for box in desk.boxes}


def test_levels_fall_evenly_along_a_chain_as_in_a_divider_of_equal_resistors() -> None:
    """V = E k / n, the divider rule (any textbook of circuits): battery, isolator, main stud are
    one chain of copper, so that equal steps lie between its nodes."""
    level = wiring("tracked-dumper").level
    chain = [Node("battery", "+"), Node("isolator", "1"), Node("isolator", "2"), Node("B1", "")]
    steps = np.diff([level[node] for node in chain])
    assert np.allclose(steps, steps[0])
    assert steps[0] < 0.0
    assert level[Node("battery", "-")] == 0.0


@pytest.mark.parametrize(
    ("code", "names"),
    [("RDWH", ("RD", "WH")), ("rd/wh", ("RD", "WH")), ("BN", ("BN",)), ("GN-YE", ("GN", "YE"))],
)
def test_wire_colours_are_those_of_iec_60757(code: str, names: tuple[str, ...]) -> None:
    assert shades(code) == tuple(SHADES[name] for name in names)


def test_the_letter_codes_are_those_of_iec_60757() -> None:
    """IEC 60757:2021, table 1 (its GNYE is two of these)."""
    assert set(SHADES) == {
        "BK",
        "BN",
        "RD",
        "OG",
        "YE",
        "GN",
        "BU",
        "VT",
        "GY",
        "WH",
        "PK",
        "GD",
        "TQ",
        "SR",
    }
    assert len({*SHADES.values()}) == len(SHADES)


@pytest.mark.parametrize("code", ["", "XX", "12", "R", "REDDISH"])
def test_a_colour_nobody_knows_is_grey(code: str) -> None:
    assert shades(code) == ("#8a8f94",)


@given(words=st.text(min_size=1, max_size=60), room=st.floats(30.0, 300.0))
def test_words_are_cut_to_their_room(words: str, room: float) -> None:
    assert width(fitting(words, room)) <= room or len(fitting(words, room)) <= 2
    broken = lines(words, room)
    assert 1 <= len(broken) <= 6
    if not any(line.endswith("\u2026") for line in broken):
        assert "".join("".join(broken).split()) == "".join(words.split())
    assert all(width(line) <= room or len(line) <= 2 for line in broken)


FOLD_BOOKS = ("tracked-dumper", "generic", "synthetic 400 2")


@settings(max_examples=60)
@given(data=st.data(), book=st.sampled_from(FOLD_BOOKS))
def test_a_folded_drawing_loses_nothing_and_is_lower(data: st.DataObject, book: str) -> None:
    known, marks = wiring(book), suspected(data, book)
    links = nearby(known, marks, most_parts=40, most_links=40)
    whole = strip_of(known, links, marks)
    strip = folded(whole, wide=760.0, high=400.0)
    assert faults_of(strip) == []
    lengths = {run.link.ident: run.y1 - run.y0 for run in whole.runs}
    assert {run.link.ident for run in strip.runs} == set(lengths)
    assert len(strip.boxes) == len(whole.boxes)
    assert strip.height <= whole.height
    assert strip is whole or strip.width <= 760.0
    for run in strip.runs:
        assert run.y1 - run.y0 == pytest.approx(lengths[run.link.ident])


def test_a_single_way_down_takes_the_width_there_is() -> None:
    """The feed of the beacon, 14 wires one after the other."""
    known = wiring("tracked-dumper")
    strips = strips_of(known, Marks(wires={"35a": Mark(number=1, chance=0.99)}))
    for strip, wide, high in ((strips.desk, 760.0, 900.0), (strips.phone, PHONE_WIDTH, 900.0)):
        assert faults_of(strip) == []
        assert strip.width <= wide
        assert strip.height < high
        assert len({turn.letter for turn in strip.turns}) >= 2
        letters = [turn.letter for turn in strip.turns if turn.leaves]
        assert letters == sorted(letters)


def test_no_name_is_broken_within_a_word() -> None:
    """Around every part of the demo book; on a phone a plug of many ways may need more room."""
    known = wiring("tracked-dumper")
    broken = []
    for part in known.layout.book.parts:
        strips = strips_of(known, Marks(), around=(part,))
        assert whole(strips.desk), part
        broken += [] if whole(strips.phone) else [part]
    assert broken in ([], ["X10"])
