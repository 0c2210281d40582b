"""A situation: what the key, the loads and the hands have done to the machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import lru_cache, partial
from typing import Literal, NamedTuple

Key = Literal["off", "on", "crank", "run"]
KEYS: tuple[Key, ...] = ("off", "on", "crank", "run")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Lead:
    """Something fitted between two nodes: "lamp 21 W", "lamp 55 W" (for 12 V), "lamp 24 V 21 W",
    "lamp 24 V 70 W", "jumper", "fused jumper", "booster cable", "resistor 1 kohm"."""

    kind: str
    p: str
    n: str


class Past(NamedTuple):
    """What came before a situation: `after`, `renewed` as there."""

    after: Situation | None
    renewed: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Situation:
    """Key and load. `key` "run" = engine running, "crank" = starter key held.

    `on`: parts, levers and functions commanded; `unplugged`: plugs and parts whose plug is off;
    `pulled`: fuses and relays taken out; `battery_off`: minus cable lifted; `fitted`: leads.
    `renewed`: fuses fitted new just before (a blown one no longer counts).
    `after`: the situation it came from (relays and fuses remember), None = from key off.
    `showing`: what came before while a defect shows, where that is more: what it met since a fuse was
    fitted new, in the same visit. None = the same.
    """

    key: Key = "on"
    on: frozenset[str] = frozenset()
    unplugged: frozenset[str] = frozenset()
    pulled: frozenset[str] = frozenset()
    battery_off: bool = False
    fitted: tuple[Lead, ...] = ()
    renewed: frozenset[str] = frozenset()
    after: Situation | None = None
    showing: Past | None = None

    def __hash__(self) -> int:
        """Worked out once: a situation is looked up far more often than it is made, and its history
        may be long."""
        try:
            found: int = self.__dict__["hash"]
        except KeyError:
            own = (self.key, self.on, self.unplugged, self.pulled, self.battery_off, self.fitted)
            found = self.__dict__["hash"] = hash((*own, self.renewed, self.after, self.showing))
        return found

    def __reduce__(self) -> tuple[Callable[..., Situation], tuple[()]]:
        """Another process hashes otherwise: it makes its own."""
        return partial(Situation, **{f.name: getattr(self, f.name) for f in fields(self)}), ()

    def bare(self) -> Situation:
        """The same situation without its history; worked out once, too."""
        if self.after is None and self.showing is None:
            return self
        found: Situation | None = self.__dict__.get("alone")
        if found is None:
            found = self.__dict__["alone"] = one_of(replace(self, after=None, showing=None))
        return found

    def past(self, *, gone: bool) -> Past:
        """What came before, by whether the defect shows."""
        if gone or self.showing is None:
            return Past(self.after, self.renewed)
        return self.showing

    def coming_after(self, past: Situation) -> Situation:
        """The same situation with the history of another one, and what was fitted new since."""
        showing = past.showing
        if showing is not None:
            own = self.renewed - past.renewed
            showing = showing._replace(renewed=showing.renewed | own)
        renewed = self.renewed | past.renewed
        return one_of(replace(self, after=past.after, renewed=renewed, showing=showing))

    def words(self) -> str:
        """In plain words: "key on, work lights on, X14 unplugged"."""
        found: str | None = self.__dict__.get("said")
        if found is None:
            found = self.__dict__["said"] = self._words()
        return found

    def _words(self) -> str:
        key = {
            "off": "key off",
            "on": "key on, engine stopped",
            "crank": "cranking",
            "run": "engine running",
        }[self.key]
        parts = [key]
        parts += [f"{name} on" for name in sorted(self.on)]
        parts += [f"{name} unplugged" for name in sorted(self.unplugged)]
        parts += [f"{name} pulled" for name in sorted(self.pulled)]
        if self.battery_off:
            parts.append("battery minus off")
        parts += [f"{lead.kind} from {lead.p} to {lead.n}" for lead in self.fitted]
        return ", ".join(parts)


@lru_cache(maxsize=4096)
def one_of(situation: Situation) -> Situation:
    """The first of all situations that equal this one: what is the same object is not compared part by
    part, history and all, wherever it is looked up."""
    return situation
