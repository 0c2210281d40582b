"""Which side of which plug a check looks at. That the mating side and the wire side of a plug, and
its two halves, mirror each other is common knowledge of the trade (no source); all layouts here
are invented."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.faces import mirrored
from backprobe.book.model import Book
from backprobe.book.situations import Lead, Situation
from backprobe.checks.faces import WHICH_HALF, FaceView, faces_at, faces_of
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check
from backprobe.checks.wording import node_words
from backprobe.defects.model import Probe
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text

BOOK = """machine m, 12 V
battery: battery
F1: fuse 5 A
X1: plug 6 ways{face}
X2: plug 2 ways
ECU: control unit, mating side 1 to 4 / 5 to 8
rail sensor: three-wire sensor, pins A / B / C, wire side C B A
ECU.1: supply
ECU.2: ground
ECU.5: 5 V group A
ECU.6: analogue input
ECU.7: ground
battery.+ > F1 > X1.1 > ECU.1, 1 mm2
ECU.2 > frame, 1 mm2
battery.- > frame, 10 mm2
rail sensor.B > X1.2 > ECU.6
ECU.5 > X1.3 > rail sensor.C
ECU.7 > X1.4 > rail sensor.A, 0.2 m
section trunk: X1 to ECU, 1 m
section lead: X1 to rail sensor, 1 m
"""


def layout(face: str = ", mating side 1 to 3 / 4 to 6 on trunk") -> Layout:
    book, problems = read_book(BOOK.format(face=face))
    assert book is not None, "\n".join(map(str, problems))
    return layout_of(book, KINDS)


LAYOUT = layout()


def seen(node: str, *off: str, of: Layout = LAYOUT) -> FaceView:
    (view,) = faces_at(of, [("R", node)], frozenset(off)).shown
    return view


def labels(view: FaceView) -> list[list[str]]:
    return [[cavity.label for cavity in row] for row in view.rows]


def test_a_plug_that_is_off_is_looked_into_and_one_that_is_on_is_seen_from_behind() -> None:
    off, on = seen("ECU.6", "ECU"), seen("ECU.6")
    assert (off.of, off.side) == ("Plug of ECU", "mating side")
    assert labels(off) == [["1", "2", "3", "4"], ["5", "6", "7", "8"]]
    assert on.side == "wire side"
    assert labels(on) == [["4", "3", "2", "1"], ["8", "7", "6", "5"]]


def test_the_socket_of_a_unit_is_the_mirror_image_of_its_plug() -> None:
    socket = seen("ECU:6", "ECU")
    assert (socket.of, socket.side) == ("Socket of ECU", "mating side")
    assert socket.rows == mirrored(seen("ECU.6", "ECU").rows)


def test_a_plug_in_the_loom_is_seen_from_the_half_that_is_probed() -> None:
    # by hand: the book gives the half on the trunk looking into it, so the trunk's wires come in
    # on the mirrored side, and the other half mirrors all that
    trunk, lead = seen("X1.3a"), seen("X1.3b")
    assert (trunk.of, trunk.side) == ("X1, half on trunk", "wire side")
    assert labels(trunk) == [["3", "2", "1"], ["6", "5", "4"]]
    assert (lead.of, lead.side) == ("X1, half on lead", "wire side")
    assert labels(lead) == [["1", "2", "3"], ["4", "5", "6"]]
    assert labels(seen("X1.3a", "X1")) == [["1", "2", "3"], ["4", "5", "6"]]
    assert labels(seen("X1.3b", "X1")) == [["3", "2", "1"], ["6", "5", "4"]]


def test_halves_follow_the_loom_and_not_the_direction_of_the_chain() -> None:
    # the signal's chain comes from the sensor: its first side is on the lead
    assert seen("X1.2a").of == "X1, half on lead"
    assert seen("X1.2b").of == "X1, half on trunk"


def test_a_wire_in_no_section_leaves_by_the_other_half() -> None:
    away = seen("X1.1a")
    assert away.of == "X1, half away from trunk"
    assert labels(away) == labels(seen("X1.3b"))


def test_where_the_book_does_not_say_which_half_the_picture_says_so() -> None:
    view = seen("X1.3b", of=layout(", mating side 1 to 3 / 4 to 6"))
    assert (view.of, view.side, view.doubt) == ("X1", "mating side", WHICH_HALF)


def test_without_a_face_nothing_is_drawn() -> None:
    nothing = faces_at(layout(""), [("R", "X1.3a"), ("B", "F1.1"), ("B", "battery minus")])
    assert nothing.shown == ()
    assert nothing.unsaid == ("X1",)


def test_printed_names_are_shown_and_counted_as_they_are_seen() -> None:
    view = seen("rail sensor.2", "rail sensor")
    assert labels(view) == [["A", "B", "C"]]
    (mark,) = seen("rail sensor.1").marks
    assert (mark.label, mark.row, mark.place, mark.places) == ("A", 1, 3, 3)


ROWS = st.lists(st.integers(1, 7), min_size=1, max_size=5)


@given(ROWS, st.booleans())
def test_the_mating_and_the_wire_side_mirror_each_other(sizes: list[int], behind: bool) -> None:
    numbers = iter(range(1, 99))
    rows = [[str(next(numbers)) for _ in range(size)] for size in sizes]
    said = " / ".join(" ".join(row[::-1] if behind else row) for row in rows)
    side = "wire side" if behind else "mating side"
    book, _ = read_book(
        f"machine m, 12 V\nECU: control unit, {side} {said}\nECU.1: supply\n"
        "battery: battery\nF1: fuse 5 A\nbattery.+ > F1 > ECU.1\n"
    )
    assert book is not None
    of = layout_of(book, KINDS)
    off, on = seen("ECU.1", "ECU", of=of), seen("ECU.1", of=of)
    assert labels(off) == rows
    assert on.rows == tuple(row[::-1] for row in off.rows)
    (left,), (right,) = off.marks, on.marks
    assert (left.row, left.places) == (right.row, right.places)
    assert left.place + right.place == left.places + 1


def check(does: str, p: str, n: str = "battery minus", target: str = "", **now: object) -> Check:
    kind = "ohms" if does in ("ohms", "beep") else "volts"
    return Check(
        id="c", does=does, target=target, words="", probe=Probe(kind=kind, p=p, n=n),  # type: ignore[arg-type]
        situation=Situation(key="off", **now),  # type: ignore[arg-type]
    )  # fmt: skip


def marks(one: Check) -> list[tuple[str, str, str]]:
    return [(v.of, m.letter, m.label) for v in faces_of(LAYOUT, one).shown for m in v.marks]


def test_both_leads_are_marked_and_battery_minus_is_no_plug() -> None:
    assert marks(check("volts", "ECU.6")) == [("Plug of ECU", "R", "6")]
    assert marks(check("volts", "ECU.6", "ECU.7")) == [
        ("Plug of ECU", "R", "6"),
        ("Plug of ECU", "B", "7"),
    ]
    assert marks(check("volts", "X1.3a", "X1.3b")) == [
        ("X1, half on trunk", "R", "3"),
        ("X1, half on lead", "B", "3"),
    ]


def test_every_place_of_a_beeper_and_of_a_fitted_lead_is_marked() -> None:
    beep = check("beep", "ECU.5", target="ECU.6, ECU.7, frame", unplugged=frozenset({"ECU"}))
    assert marks(beep) == [("Plug of ECU", "R", "5"), ("Plug of ECU", "B", "6"), ("Plug of ECU", "B", "7")]  # fmt: skip
    lead = Lead(kind="resistor 1 kohm", p="rail sensor.2", n="rail sensor.1")
    off = frozenset({"rail sensor"})
    fitted = check("volts", "ECU.6", fitted=(lead,), unplugged=off)
    assert marks(fitted)[:2] == [("Plug of rail sensor", "L", "B"), ("Plug of rail sensor", "L", "A")]  # fmt: skip


def test_a_pin_that_the_face_lacks_is_not_drawn_somewhere() -> None:
    book: Book | None = read_book(BOOK.format(face=", mating side 9 8 on nowhere"))[0]
    assert book is not None
    missed = faces_at(layout_of(book, KINDS), [("R", "X1.3a")])
    assert (missed.shown, missed.unsaid) == ((), ("X1",))


def test_on_the_demo_machine_every_pin_of_a_drawn_plug_is_found_and_every_half_known() -> None:
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None
    demo = layout_of(book, KINDS)
    drawn = [t for t in demo.ends.values() if t.part in book.parts and book.parts[t.part].face]
    assert len(drawn) > 150
    for touch in drawn:
        view = seen(touch.node, of=demo)
        assert view.doubt == "", touch
        assert [mark.label for mark in view.marks] == [touch.pin]
    # the two sides of a way are on two halves, and the same section is always the same half
    halves = {(t.part, t.pin, t.side): seen(t.node, of=demo).of for t in drawn if t.side}
    assert all(halves[p, n, "a"] != halves[p, n, "b"] for p, n, _ in halves)
    assert {of for of in halves.values() if of.startswith("X10")} == {
        "X10, half on hinge",
        "X10, half on engine trunk",
    }


def test_a_pin_that_is_printed_otherwise_is_told_as_printed() -> None:
    seen_as = node_words(layout(), "rail sensor.2")
    assert seen_as.startswith("rail sensor pin 2, printed B (")
