"""What the kinds of part are made of: pure records that the rooms above interpret.

KINDS, kind_named    every kind of part, and the one a person's words mean
ROLES, role_named    what may stand behind a unit's pin, likewise
GROUP                the regulator of a unit's 5 V group
HAZARDS              dangers with the usual caution
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from backprobe.kinds.battery import ALTERNATOR, BATTERY
from backprobe.kinds.can import CAN
from backprobe.kinds.drivers import DRIVERS
from backprobe.kinds.fuses import BREAKER, FUSE, FUSIBLE_LINK
from backprobe.kinds.group import GROUP
from backprobe.kinds.hazards import HAZARDS
from backprobe.kinds.joints import JOINTS
from backprobe.kinds.loads import LOADS
from backprobe.kinds.motors import MOTORS
from backprobe.kinds.records import Kind, Role
from backprobe.kinds.relays import RELAYS
from backprobe.kinds.roles import INPUTS
from backprobe.kinds.sensors import SENSORS
from backprobe.kinds.solenoids import SOLENOIDS
from backprobe.kinds.switches import SWITCHES
from backprobe.kinds.units import UNITS

__all__ = [
    "GROUP",
    "HAZARDS",
    "KINDS",
    "ROLES",
    "kind_named",
    "role_named",
]

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            BATTERY,
            ALTERNATOR,
            FUSE,
            FUSIBLE_LINK,
            BREAKER,
            *SWITCHES,
            *RELAYS,
            *JOINTS,
            *LOADS,
            *MOTORS,
            *SOLENOIDS,
            *SENSORS,
            *UNITS,
        )
    }
)
"""Every kind of part by name."""

ROLES: Final[Mapping[str, Role]] = MappingProxyType(
    {role.name: role for role in (*INPUTS, *DRIVERS, *CAN)}
)
"""Every role of a unit's pin by name."""


_KIND_WORDS: Final = {word.casefold(): kind for kind in KINDS.values() for word in kind.words}
_ROLE_WORDS: Final = {word.casefold(): role for role in ROLES.values() for word in role.words}


def kind_named(words: str) -> Kind | None:
    """The kind a person means, by any of its words, case and spacing aside; None if unknown."""
    return _KIND_WORDS.get(" ".join(words.split()).casefold())


def role_named(words: str) -> Role | None:
    """The role a person means, by any of its words, case and spacing aside; None if unknown."""
    return _ROLE_WORDS.get(" ".join(words.split()).casefold())
