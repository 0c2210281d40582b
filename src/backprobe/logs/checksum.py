"""The checksum of a classic CAN frame, to tell a garbled row from a good one."""

from __future__ import annotations

_POLYNOMIAL = 0x4599  # x15+x14+x10+x8+x7+x4+x3+1, ISO 11898-1 and the Bosch CAN 2.0 specification


def crc15(ident: int, data: bytes, *, extended: bool = True) -> int:
    """CRC-15 of a data frame, from start of frame to the last data bit, without stuff bits."""
    if extended:
        # start 0, 11 bits, SRR 1, IDE 1, 18 bits, RTR 0, two reserved 0
        bits = ((ident >> 18) << 23 | 0b11 << 21 | (ident & 0x3FFFF) << 3, 35)
    else:
        # start 0, 11 bits, RTR 0, IDE 0, reserved 0
        bits = (ident << 3, 15)
    word = ((bits[0] << 4) | len(data)) << 8 * len(data) | int.from_bytes(data, "big")
    return remainder(word, bits[1] + 4 + 8 * len(data))


def remainder(word: int, width: int) -> int:
    """CRC-15 of the lowest `width` bits of `word`, the highest first."""
    crc = 0
    for shift in range(width - 1, -1, -1):
        carry = (crc >> 14) ^ (word >> shift & 1)
        crc = (crc << 1) & 0x7FFF
        if carry:
            crc ^= _POLYNOMIAL
    return crc
