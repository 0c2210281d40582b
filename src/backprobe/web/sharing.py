"""Sharing with phones on the shop's network: who is paired, and the code that pairs one more.

The laptop itself needs no pairing: it comes in by a socket nobody else can reach. Whoever comes in
by the other one sees the pairing page and nothing else, until it was given a code that the laptop
shows. Pairings last until the program ends.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

COOKIE: Final = "backprobe-device"
COOKIE_S: Final = 7 * 24 * 3600
CODE_S: Final = 600.0
"""Seconds a code can be used."""
LETTERS: Final = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""Letters and figures of a code: none that is mistaken for another."""
CODE_LENGTH: Final = 10
"""50 bits; with MOST_WRONG tries a guess is right once in 10^13."""
MOST_WRONG: Final = 20
"""Wrong codes after which the one shown counts no more."""
MOST_NAME: Final = 24
MOST_DEVICES: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A code that pairs one phone. `until` in the clock's seconds."""

    word: str
    until: float

    @property
    def grouped(self) -> str:
        """As it is read and typed: "K7QM4-TXP9R"."""
        half = CODE_LENGTH // 2
        return f"{self.word[:half]}-{self.word[half:]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A paired phone. `paired_at` and `seen_at` in the clock's seconds."""

    ident: str
    name: str
    paired_at: float
    seen_at: float


class Sharing:
    """One shop shared at `address`, "192.168.1.20:8787". Not for several threads at once.

    `clock` gives seconds since 1970-01-01 UTC.
    """

    def __init__(self, address: str, clock: Callable[[], float] = time.time) -> None:
        self.address = address
        self._clock = clock
        self._devices: dict[str, Device] = {}
        self._count = 0
        self._wrong = 0
        self._code: Code | None = None
        self.renew()

    @property
    def host(self) -> str:
        """The name phones call the laptop by, without port."""
        return self.address.rpartition(":")[0]

    def now(self) -> float:
        """The clock."""
        return self._clock()

    @property
    def code(self) -> Code | None:
        """The code that pairs the next phone; None once it was used or is too old."""
        if self._code is not None and self._clock() > self._code.until:
            self._code = None
        return self._code

    def renew(self) -> Code:
        """A new code; the one before counts no more."""
        word = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        self._code = Code(word=word, until=self._clock() + CODE_S)
        self._wrong = 0
        return self._code

    def pair(self, typed: str, name: str) -> str | None:
        """Pair a phone: the value of its cookie, or None when the code does not count."""
        code = self.code
        word = "".join(typed.upper().replace("-", " ").split())
        if code is None:
            return None
        if not secrets.compare_digest(word.encode(), code.word.encode()):
            self._wrong += 1
            if self._wrong >= MOST_WRONG:
                self._code = None
            return None
        if len(self._devices) >= MOST_DEVICES:
            oldest = min(self._devices, key=lambda key: self._devices[key].seen_at)
            del self._devices[oldest]
        self._code = None
        self._count += 1
        now = self._clock()
        secret = secrets.token_urlsafe(32)
        self._devices[_digest(secret)] = Device(
            ident=str(self._count),
            name=self._free(_tidy(name) or f"Phone {self._count}"),
            paired_at=now,
            seen_at=now,
        )
        return secret

    def device(self, secret: str) -> Device | None:
        """The phone with this cookie, seen now; None when it is not paired."""
        key = _digest(secret)
        found = self._devices.get(key)
        if found is not None:
            found = self._devices[key] = replace(found, seen_at=self._clock())
        return found

    def devices(self) -> tuple[Device, ...]:
        """All paired phones, the one paired last first."""
        return tuple(reversed(self._devices.values()))

    def unpair(self, ident: str) -> bool:
        """Let one phone go; whether there was one."""
        key = next((k for k, one in self._devices.items() if one.ident == ident), None)
        if key is None:
            return False
        del self._devices[key]
        return True

    def _free(self, name: str) -> str:
        """The name, numbered when another phone has it."""
        taken = {one.name for one in self._devices.values()}
        return f"{name} {self._count}" if name in taken else name


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _tidy(name: str) -> str:
    shown = "".join(c if c.isprintable() else " " for c in name)
    return " ".join(shown.split())[:MOST_NAME].strip()
