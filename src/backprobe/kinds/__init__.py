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

from backprobe.kinds.alternator import ALTERNATOR
from backprobe.kinds.battery import BATTERY
from backprobe.kinds.can import CAN
from backprobe.kinds.circuit_breaker import BREAKER
from backprobe.kinds.control_unit import UNITS
from backprobe.kinds.diode import DIODE
from backprobe.kinds.drivers import DRIVERS
from backprobe.kinds.fuse import FUSE
from backprobe.kinds.fusible_link import FUSIBLE_LINK
from backprobe.kinds.ground import GROUND_STRAP, GROUND_STUD
from backprobe.kinds.group import GROUP
from backprobe.kinds.hall_sensor import HALL
from backprobe.kinds.hazards import HAZARDS
from backprobe.kinds.heater import GLOW_PLUG, HEATER
from backprobe.kinds.horn import HORN
from backprobe.kinds.inductive_sensor import INDUCTIVE
from backprobe.kinds.isolator import ISOLATOR
from backprobe.kinds.key_switch import KEY_SWITCH
from backprobe.kinds.lamp import LAMP, LED_LAMP
from backprobe.kinds.motor import FAN, MOTOR, PUMP
from backprobe.kinds.plug import PLUG
from backprobe.kinds.proximity_switch import PROXIMITY_SWITCH
from backprobe.kinds.pwm_valve import PWM_VALVE
from backprobe.kinds.records import Kind, Role
from backprobe.kinds.relay import RELAYS
from backprobe.kinds.resistive_sensor import ONE_WIRE, THERMISTOR
from backprobe.kinds.resistor import RESISTOR, TERMINATOR
from backprobe.kinds.roles import INPUTS
from backprobe.kinds.solenoid import INJECTOR, SOLENOID
from backprobe.kinds.splice import SPLICE
from backprobe.kinds.starter import STARTER
from backprobe.kinds.stop_solenoid import STOP_SOLENOID
from backprobe.kinds.switch import (
    BREAK_SWITCH,
    CHANGEOVER_SWITCH,
    OIL_PRESSURE_SWITCH,
    PRESSURE_SWITCH,
    SEAT_SWITCH,
    SWITCH,
)
from backprobe.kinds.three_wire_sensor import THREE_WIRE, TWO_TRACK

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
            ISOLATOR,
            KEY_SWITCH,
            SWITCH,
            BREAK_SWITCH,
            SEAT_SWITCH,
            PRESSURE_SWITCH,
            OIL_PRESSURE_SWITCH,
            CHANGEOVER_SWITCH,
            PROXIMITY_SWITCH,
            *RELAYS,
            SPLICE,
            PLUG,
            GROUND_STUD,
            GROUND_STRAP,
            LAMP,
            LED_LAMP,
            HORN,
            HEATER,
            GLOW_PLUG,
            RESISTOR,
            TERMINATOR,
            MOTOR,
            PUMP,
            FAN,
            STARTER,
            SOLENOID,
            PWM_VALVE,
            INJECTOR,
            STOP_SOLENOID,
            DIODE,
            THREE_WIRE,
            TWO_TRACK,
            HALL,
            INDUCTIVE,
            THERMISTOR,
            ONE_WIRE,
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
