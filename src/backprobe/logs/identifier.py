"""The 29-bit identifier of SAE J1939-21: who says what to whom."""

from __future__ import annotations

from dataclasses import dataclass

EVERYONE = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Identifier:
    """Fields of an identifier. `pgn` is the parameter group number: its low byte is 0 when the
    format byte is below 240, because those groups are sent to one `destination`."""

    priority: int
    pgn: int
    source: int
    destination: int = EVERYONE


def decode_identifier(ident: int) -> Identifier | None:
    """The fields, or None when the number has more than 29 bits.

    Layout: priority 3, reserved 1, data page 1, format 8, specific 8, source 8 bits
    (SAE J1939-21 as in the cantools library).
    """
    if not 0 <= ident <= 0x1FFFFFFF:
        return None
    pgn = ident >> 8 & 0x3FFFF
    destination = EVERYONE
    if (pgn >> 8 & 0xFF) < 240:
        destination = pgn & 0xFF
        pgn &= 0x3FF00
    return Identifier(priority=ident >> 26, pgn=pgn, source=ident & 0xFF, destination=destination)


def encode_identifier(fields: Identifier) -> int:
    """The identifier with these fields; undoes `decode_identifier`."""
    pgn = fields.pgn
    if (pgn >> 8 & 0xFF) < 240:
        pgn |= fields.destination
    return fields.priority << 26 | pgn << 8 | fields.source
