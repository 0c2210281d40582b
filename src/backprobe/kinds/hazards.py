"""Dangers of the trade and the usual caution for each, shown at the step.

They never replace the maker's manual, the rules of the site or licensed practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from backprobe.kinds.records import Hazard

_LIST: Final = (
    Hazard(
        slug="high-pressure-fuel",
        words="Fuel or oil under pressure goes through skin and gloves. Never feel for a leak: "
        "use a card. After stopping wait the maker's time (often 10 minutes) before opening a "
        "line. Hit by a jet: hospital at once, even if it does not hurt; say 'high-pressure "
        "injection'.",
        authority="HSE FOD 4-2014; engine makers' manuals",
    ),
    Hazard(
        slug="raised-arms",
        words="Lower or block arms, bucket, boom and cab with the approved support; controls "
        "neutral, engine stopped, brakes set.",
        authority="29 CFR 1926.600(a)(3)(i); OSHA SHIB 01-12-2009; NIOSH 98-117",
    ),
    Hazard(
        slug="lockout",
        words="Key out and kept in your pocket; isolate, lock and tag as the maker and the site "
        "rule say. The isolator switch does not replace lifting the minus cable.",
        authority="29 CFR 1910.147 (shops); elsewhere the maker's isolation and the site rule",
    ),
    Hazard(
        slug="starter-bypass",
        words="Never bridge the starter or its solenoid: the machine may start in gear and run "
        "you over.",
        authority="SAE J1493",
    ),
    Hazard(
        slug="interlock",
        words="Do not leave a seat, bar, neutral or park-brake interlock bridged. Test only with "
        "the machine blocked, put it back, and write down that it is back.",
        authority="OSHA SHIB 01-12-2009",
    ),
    Hazard(
        slug="may-move",
        words="This circuit can move the machine. Do not bridge it or feed it by hand; block the "
        "machine, clear people away, hands off the levers.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="battery-gas",
        words="Batteries give off explosive gas and hold acid. Goggles, no metal jewellery, minus "
        "off first and on last, ventilate, no sparks.",
        authority="HSE INDG139; 29 CFR 1926.441",
    ),
    Hazard(
        slug="frozen-battery",
        words="Never boost or charge a frozen battery: it can burst; never boost with the wrong "
        "voltage: it destroys control units.",
        authority="HSE INDG139; common practice",
    ),
    Hazard(
        slug="battery-off-running",
        words="Never lift a battery cable with the engine running: it destroys control units. After "
        "key off wait (often 30 seconds) before opening the isolator.",
        authority="machine makers' notices",
    ),
    Hazard(
        slug="crank-limit",
        words="Neutral, park brake on, nobody near belts, fan and tracks. Crank at most 30 seconds, "
        "then let the starter cool for 2 minutes.",
        authority="US Army TM 10-3930-671-24; engine makers' manuals",
    ),
    Hazard(
        slug="thin-jumper",
        words="Never crank through a thin test lead: it carries the starter current and burns. "
        "Use a booster cable.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="spray",
        words="A light spray, no hose: no water into a control unit, an open plug or the air intake, "
        "none on the battery.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="hot-lamp",
        words="The lamp gets hot enough to burn skin, plastic and dry grass within a minute. Hang it "
        "free, away from fuel, seat and loom, and do not leave it alone.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="short-circuit",
        words="This line can deliver hundreds of amperes. No rings or watch, insulate the tool, "
        "do not let a probe slip.",
        authority="HSE INDG139; common practice",
    ),
    Hazard(
        slug="fuse-rating",
        words="Fit only a fuse of the printed rating and never bridge one. A fuse that blows "
        "again means: stop and find the cause.",
        authority="machine makers' manuals; common practice",
    ),
    Hazard(
        slug="injector-drive",
        words="Injector lines carry up to about 200 V and many amperes. Key off and wait before "
        "touching; never unplug an injector with the engine running; no test lamp.",
        authority="engine makers' manuals",
    ),
    Hazard(
        slug="stored-charge",
        words="A unit can hold charge after key off. Wait and check for volts before measuring "
        "ohms.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="unit-lines",
        words="Lines of a control unit: no test lamp, no battery volts on 5 V, signal or CAN "
        "lines. Use a meter of 10 megohm or more.",
        authority="machine makers' notices; SAE and makers' meter notes",
    ),
    Hazard(
        slug="unplug-live",
        words="No plug off or on before the key is off and you have waited, a control unit's above "
        "all.",
        authority="machine makers' notices",
    ),
    Hazard(
        slug="ohms-live",
        words="Ohmmeter only on a dead circuit: battery minus off, plugs of units open. Live, it "
        "misreads and can harm a unit.",
        authority="makers' meter notes",
    ),
    Hazard(
        slug="no-piercing",
        words="Pierce no insulation, spread no terminal: probe from the back of the plug or with "
        "the matching test pin.",
        authority="machine makers' notices",
    ),
    Hazard(
        slug="welding",
        words="Before welding: minus cable off, control units unplugged, weld clamp close to the "
        "weld.",
        authority="machine makers' notices; I-CAR RTS",
    ),
    Hazard(
        slug="under-machine",
        words="Nothing held up by a jack or by oil alone: crib it, chock it, firm ground, and "
        "never alone.",
        authority="29 CFR 1926.600",
    ),
    Hazard(
        slug="moving-parts",
        words="Belt and fan take fingers and sleeves; an electric fan can start by itself with "
        "the key off.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="hot-parts",
        words="Exhaust, turbo, coolant and glow plugs burn. Let it cool, or keep off.",
        authority="common practice, no source",
    ),
    Hazard(
        slug="fumes",
        words="Never run the engine in a closed shop without extraction.",
        authority="UK HSE, vehicle exhaust emissions in repair shops; HSG187",
    ),
    Hazard(
        slug="fire",
        words="Diesel, a spark and a hot part make a fire: wipe spills, extinguisher in reach.",
        authority="common practice, no source",
    ),
)

HAZARDS: Final[Mapping[str, Hazard]] = MappingProxyType({one.slug: one for one in _LIST})
"""Every hazard a kind or task may name, by slug."""

DEFER: Final = "The maker's manual, local rules and licensed practice come first."
"""Said once wherever cautions are shown."""
