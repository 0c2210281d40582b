"""Trouble codes and lamps as units send them: the DM1 and DM2 messages of SAE J1939-73."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

DM1 = 65226
DM2 = 65227

Lamp = Literal["off", "on", "slow flash", "fast flash", "not available"]
_NO_COUNT = 127
_ALL_ONES = 524287


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamps:
    """The four lamps a unit asks for."""

    mil: Lamp = "not available"
    red_stop: Lamp = "not available"
    amber_warning: Lamp = "not available"
    protect: Lamp = "not available"

    def words(self) -> str:
        """Those that are lit: "amber warning on", or "no lamp"."""
        lamps = {
            "malfunction indicator": self.mil,
            "red stop": self.red_stop,
            "amber warning": self.amber_warning,
            "protect": self.protect,
        }
        lit = [f"{k} {v}" for k, v in lamps.items() if v not in {"off", "not available"}]
        return ", ".join(lit) or "no lamp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One trouble code. `count`: how often it came, None when not counted.

    `old_method`: the conversion bit is set, so the number was packed in one of three older ways
    and the message does not say which. `spn` is then the reading that versions 3 and 4 share.
    """

    spn: int
    fmi: int
    count: int | None = None
    old_method: bool = False

    @property
    def name(self) -> str:
        """As technicians write it: "157/4"."""
        return f"{self.spn}/{self.fmi}"

    def also(self) -> tuple[int, ...]:
        """The numbers the same bytes mean in versions 1 and 2, when `old_method`.

        Byte order by conversion bit: can-utils issue 511; the two older formulas are from memory.
        """
        if not self.old_method:
            return ()
        first, second, third = self.spn & 0xFF, self.spn >> 8 & 0xFF, self.spn >> 16
        return (first << 11 | second << 3 | third, second << 11 | first << 3 | third)


@dataclass(frozen=True, slots=True, kw_only=True)
class TroubleList:
    """One DM1 or DM2 message read. `doubt`: why the list may not be all, "" when it is."""

    lamps: Lamps
    codes: tuple[Code, ...]
    doubt: str = ""


def decode_code(four: bytes) -> Code:
    """A code from its four bytes: number low, middle, high 3 bits + failure mode, bit + count."""
    first, second, third, fourth = four
    count = fourth & 0x7F
    return Code(
        spn=first | second << 8 | third >> 5 << 16,
        fmi=third & 0x1F,
        count=None if count == _NO_COUNT else count,
        old_method=bool(fourth >> 7),
    )


def encode_code(code: Code) -> bytes:
    """Four bytes in the current way; the count is cut to 7 bits as units do."""
    count = _NO_COUNT if code.count is None else code.count & 0x7F
    return bytes(
        (
            code.spn & 0xFF,
            code.spn >> 8 & 0xFF,
            (code.spn >> 16 & 0x07) << 5 | code.fmi & 0x1F,
            code.old_method << 7 | count,
        )
    )


def decode_trouble(data: bytes) -> TroubleList:
    """The lamps and codes of a DM1 or DM2 payload, short frame or reassembled.

    Number 0 with mode 0 means "no code"; all ones means "not available". A short frame is filled
    up to 8 bytes; some units send 6.
    """
    if len(data) < 2:
        return TroubleList(lamps=Lamps(), codes=(), doubt=f"it has {len(data)} of 6 bytes")
    whole = (len(data) - 2) // 4
    codes = [decode_code(data[2 + 4 * n : 6 + 4 * n]) for n in range(whole)]
    return TroubleList(
        lamps=_lamps(data[0], data[1]),
        codes=tuple(code for code in codes if not _says_nothing(code)),
        doubt=_doubt(data, whole),
    )


def _doubt(data: bytes, whole: int) -> str:
    if not whole:
        return f"it has {len(data)} of 6 bytes"
    rest = data[2 + 4 * whole :]
    # one code in a frame of 8 leaves two bytes over
    if rest and not (len(data) <= 8 and set(rest) <= {0xFF, 0x00}):
        return f"it has {len(data)} bytes, which is not 2 and 4 for each code"
    return ""


def _says_nothing(code: Code) -> bool:
    return (code.spn, code.fmi) in {(0, 0), (_ALL_ONES, 31)}


def _lamps(steady: int, flash: int) -> Lamps:
    def lamp(shift: int) -> Lamp:
        state, how = steady >> shift & 3, flash >> shift & 3
        if state == 0:
            return "off"
        if state != 1:
            return "not available"
        return {0: "slow flash", 1: "fast flash"}.get(how, "on")  # type: ignore[return-value]

    return Lamps(mil=lamp(6), red_stop=lamp(4), amber_warning=lamp(2), protect=lamp(0))
