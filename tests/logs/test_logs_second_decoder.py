"""Code lists read here and by an independent decoder, can-j1939 (MIT), must agree."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import j1939
from hypothesis import given
from hypothesis import strategies as st

from backprobe.logs.trouble import Code, decode_trouble, encode_code

LAMP = {0: "off", 1: "on", 2: "slow flash", 3: "fast flash", 4: "not available"}


class Listener:
    """Stands in for a node on a bus: hands one message to the decoder."""

    def __init__(self) -> None:
        self.heard: tuple[dict[str, int], list[dict[str, int]]] | None = None
        self._give: Callable[..., None] | None = None
        decoder = j1939.Dm1(self)
        decoder.subscribe(self._listen)

    def subscribe(self, give: Callable[..., None]) -> None:
        self._give = give

    def _listen(self, _source: int, lamps: dict[str, int], codes: list[Any], _time: float) -> None:
        self.heard = (lamps, codes)

    def decode(self, data: bytes) -> tuple[dict[str, int], list[dict[str, int]]]:
        assert self._give is not None
        self._give(6, 65226, 0, 0.0, data)
        assert self.heard is not None
        return self.heard


CODES = st.builds(
    Code, spn=st.integers(1, 524286), fmi=st.integers(0, 31), count=st.integers(0, 126)
)
# flash bits 10 are reserved: can-j1939 then calls the lamp not available, here it counts as on
LAMP_BYTE = st.tuples(*[st.sampled_from([0, 1, 3])] * 4).map(
    lambda b: b[0] | b[1] << 2 | b[2] << 4 | b[3] << 6
)


@given(LAMP_BYTE, LAMP_BYTE, st.lists(CODES, min_size=1, max_size=50))
def test_lamps_and_codes_as_can_j1939_reads_them(
    steady: int, flash: int, codes: list[Code]
) -> None:
    data = bytes([steady, flash]) + b"".join(map(encode_code, codes))
    lamps, theirs = Listener().decode(data)
    ours = decode_trouble(data)
    assert [(c.spn, c.fmi, c.count) for c in ours.codes] == [
        (c["spn"], c["fmi"], c["oc"]) for c in theirs
    ]
    assert [
        ours.lamps.protect,
        ours.lamps.amber_warning,
        ours.lamps.red_stop,
        ours.lamps.mil,
    ] == [LAMP[lamps[name]] for name in ("pl", "awl", "rsl", "mil")]


@given(CODES)
def test_four_bytes_as_can_j1939_packs_them(code: Code) -> None:
    theirs = j1939.DTC(spn=code.spn, fmi=code.fmi, oc=code.count).dtc
    assert int.from_bytes(encode_code(code), "little") == theirs


def test_lists_of_recorded_trucks() -> None:
    # payloads as published facts (SystemsCyber and TruckCape recordings): 191/9, 84/9, 5357/31
    # with counts 8, 8, 1; and 96/3, 829/3 with count 126
    for payload, expected in (
        ("43FFBF00090854000908ED141F01", [(191, 9, 8), (84, 9, 8), (5357, 31, 1)]),
        ("C4FF6000037E3D03037E", [(96, 3, 126), (829, 3, 126)]),
    ):
        data = bytes.fromhex(payload)
        assert [(c.spn, c.fmi, c.count) for c in decode_trouble(data).codes] == expected
        _, theirs = Listener().decode(data)
        assert [(c["spn"], c["fmi"], c["oc"]) for c in theirs] == expected
