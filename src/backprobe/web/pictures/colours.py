"""Wire colours as light: the codes of IEC 60757 in plain sRGB. The standard names colours only;
the shades are judgement, apart enough to be told from each other on a phone in the sun."""

from __future__ import annotations

from typing import Final

SHADES: Final = {
    "BK": "#1a1a1a",
    "BN": "#7a4a21",
    "RD": "#cc1f1f",
    "OG": "#ee7d11",
    "YE": "#f2cf1d",
    "GN": "#1f8a3b",
    "BU": "#2160c4",
    "VT": "#7b3fa0",
    "GY": "#8a8f94",
    "WH": "#ffffff",
    "PK": "#ef8fb4",
    "TQ": "#2bb5b0",
    "GD": "#c9a227",
    "SR": "#c3c8cc",
}
UNKNOWN: Final = "#8a8f94"


def shades(code: str) -> tuple[str, ...]:
    """The colours of a wire as printed on it, main colour first: "RDWH" or "RD/WH" is red with
    white. A code that IEC 60757 does not know is drawn grey."""
    plain = "".join(letter for letter in code.upper() if letter.isalpha())
    pairs = [plain[k : k + 2] for k in range(0, len(plain), 2)]
    if not pairs or any(pair not in SHADES for pair in pairs):
        return (UNKNOWN,)
    return tuple(SHADES[pair] for pair in pairs[:2])
