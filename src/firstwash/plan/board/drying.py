"""How long a wash takes to dry, from the water in it, the paper and the air of the room.

Water leaves at the rate that the vapour pressure at the wet surface, that of the room's air and
the air's speed allow [ASHRAE2019]. A wet sheet cools itself, so its surface lies somewhere
between the coldest a wet body gets, the wet-bulb temperature, and the room. Where exactly
depends on the board underneath and on draughts nobody measures; drying is therefore always told
as a range:

- at the latest, the sheet is as cold as a wet bulb;
- most likely, it is warmed by the air and by the walls of the room (radiation);
- at the earliest, the board keeps it as warm as the room.

While water stands on the paper it shines, and leaves at a constant rate; what has sunk in leaves
ever more slowly, in proportion to what is left [Berk2009]. Dry enough for the next layer means
that it no longer feels cool to the back of the hand.
"""

import math
from dataclasses import dataclass

from firstwash.errors import RequestError
from firstwash.plan.board.practice import checked, practice_of
from firstwash.plan.board.ranges import Range, range_words

__all__ = [
    "HAIR_DRYER",
    "Drying",
    "Room",
    "drying",
    "drying_of",
    "drying_words",
    "evaporation_gsm_min",
    "latent_heat_kj_kg",
    "radiation_w_m2k",
    "surface_c",
    "vapour_pressure_kpa",
]

PRESSURE_KPA = 101.325  # air pressure at sea level; at 1500 m washes dry a little faster
WET_BULB = 0.000662  # psychrometer coefficient of a well ventilated wet bulb, 1/K [FAO56]
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m²·K⁴) [CODATA2018]
EMISSIVITY = 0.95  # of wet paper in the infrared; water 0.96, paper 0.93, from memory
KELVIN = 273.15

ABSORBENCY = 0.1  # g of water per g of sized paper, given time: 30 g/m² in a sheet of 300 g/m²,
# the size of a water absorptiveness [ISO535] of well sized paper, 20 to 30 g/m²; from memory
COOL_LEFT = 0.2  # of the rate of drying when a hand no longer feels the cold, then about 1 K;
# common practice (back of the hand), the figure without source

BLOWN_C, BLOWN_M_S = 45.0, 2.0  # air that reaches the sheet; common practice, no source
HAIR_DRYER = (
    "A hair dryer speeds this up: wait until the shine is gone, then keep it moving, well away "
    "from the paper."
)


@dataclass(frozen=True)
class Room:
    """The air at the board.

    temperature_c: 5 to 45 °C. humidity: relative, as a share, 0.05 to 1. air_speed_m_s: over
    the sheet, 0 to 3 m/s; still rooms have about 0.1, a fan at arm's length about 1.
    hair_dryer: whether one is used once the shine is gone.
    Raises RequestError outside these.
    """

    temperature_c: float = 20.0
    humidity: float = 0.5
    air_speed_m_s: float = 0.1
    hair_dryer: bool = False

    def __post_init__(self) -> None:
        """Refuse a room nobody paints in, one sentence each."""
        if not 5.0 <= self.temperature_c <= 45.0:
            raise RequestError(
                f"Give a room temperature of 5 to 45 °C, not {self.temperature_c:g}; "
                "20 °C is 68 °F."
            )
        if not 0.05 <= self.humidity <= 1.0:
            raise RequestError(
                f"Give the relative humidity as a share from 0.05 to 1, not {self.humidity:g}; "
                "50 % is 0.5."
            )
        if not 0.0 <= self.air_speed_m_s <= 3.0:
            raise RequestError(
                f"Give an air speed of 0 to 3 m/s, not {self.air_speed_m_s:g}; a still room has "
                "0.1, a fan about 1."
            )


@dataclass(frozen=True)
class Drying:
    """Minutes after a wash is laid: until it no longer shines, and until it is dry."""

    shine: Range
    dry: Range

    @property
    def never(self) -> bool:
        """Whether the air is so damp that it does not dry at all."""
        return math.isinf(self.dry.low)


def vapour_pressure_kpa(temperature_c: float) -> float:
    """Vapour pressure (kPa) of saturated air over water at −40 to 50 °C.

    Magnus form with the coefficients of [Alduchov1996], within 0.4 %.
    """
    return 0.61094 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))


def latent_heat_kj_kg(temperature_c: float) -> float:
    """Heat (kJ/kg) that evaporating water takes up. Source: [FAO56]."""
    return 2501.0 - 2.361 * temperature_c


def evaporation_gsm_min(room: Room, wet_c: float) -> float:
    """Water (g/m² per minute) that leaves a wet surface of a temperature (°C), 0 or more.

    W = (pw − pa)(0.089 + 0.0782·V)/Y, with pw, pa in kPa, V in m/s, Y in kJ/kg, W in
    kg/(m²·s). Source: [ASHRAE2019]; [Smith1998] has the same law in inch-pound units and
    found undisturbed pools to lose about a quarter less.
    """
    excess = vapour_pressure_kpa(wet_c) - _vapour_kpa(room)
    flux = _transfer(room) * max(excess, 0.0) / latent_heat_kj_kg(wet_c)
    return 60_000.0 * flux


def _transfer(room: Room) -> float:
    """kW/m² of evaporation for each kPa of vapour pressure. Source: [ASHRAE2019]."""
    return 0.089 + 0.0782 * room.air_speed_m_s


def _vapour_kpa(room: Room) -> float:
    return room.humidity * vapour_pressure_kpa(room.temperature_c)


def radiation_w_m2k(temperature_c: float) -> float:
    """Heat (W/m²) radiated to a surface for each kelvin it is colder than the room.

    The derivative of Stefan's and Boltzmann's law, 4εσT³; 5.4 W/(m²·K) at 20 °C.
    """
    return 4.0 * EMISSIVITY * STEFAN_BOLTZMANN * (temperature_c + KELVIN) ** 3


def surface_c(room: Room, warmth_w_m2k: float = 0.0) -> float:
    """Temperature (°C) at which a wet surface settles.

    warmth_w_m2k: heat that reaches it otherwise than from the air, W/m² for each kelvin below
    the room's temperature. With 0 it is the wet-bulb temperature; with ever more it comes to
    the room's.

    The air brings heat in a fixed proportion to the vapour it takes away, which the coefficient
    of a ventilated psychrometer [FAO56] states, whatever its speed.
    """
    kilowatt = _transfer(room)
    per_kelvin = kilowatt * WET_BULB * PRESSURE_KPA + warmth_w_m2k / 1000.0
    vapour, low, high = _vapour_kpa(room), room.temperature_c - 60.0, room.temperature_c
    for _ in range(60):  # 60 K halved 60 times: far below the last digit
        middle = (low + high) / 2.0
        lost = kilowatt * (vapour_pressure_kpa(middle) - vapour)
        if lost > per_kelvin * (room.temperature_c - middle):
            high = middle
        else:
            low = middle
    return high


def drying(
    water_gsm: float,
    room: Room,
    paper_weight_gsm: float = 300.0,
    absorbency: float = ABSORBENCY,
) -> Drying:
    """How long a wash shines and how long it takes to dry, in minutes.

    water_gsm: water laid, g/m², up to 2000. paper_weight_gsm: 40 to 2000 g/m². absorbency:
    g of water that each g of paper takes in, 0 to 2; about 0.1 for well sized paper, much more
    for paper that drinks.

    Heavier paper takes in more, and stays damp longer. Air of 100 % humidity never dries
    anything: the minutes are infinite.
    Raises RequestError for numbers outside these ranges.
    """
    checked("water of a wash (g/m²)", water_gsm, 0.0, 2000.0)
    checked("weight of the paper (g/m²)", paper_weight_gsm, 40.0, 2000.0)
    checked("absorbency of the paper", absorbency, 0.0, 2.0)
    sunk = _sunk_gsm(water_gsm, absorbency * paper_weight_gsm)
    free, rates = water_gsm - sunk, _rates(room)
    # At the earliest the paper feeds its surface well and all leaves at the full rate.
    slow = sunk * math.log(1.0 / COOL_LEFT)
    shine = _minutes((free, free, free), rates)
    rest = _minutes((sunk, slow, slow), _rates(_blown(room)) if room.hair_dryer else rates)
    return Drying(shine, shine + rest)


def _blown(room: Room) -> Room:
    """The same air out of a hair dryer: warmed, its water vapour kept, and moved."""
    vapour = room.humidity * vapour_pressure_kpa(room.temperature_c)
    dry = vapour / vapour_pressure_kpa(BLOWN_C)
    return Room(BLOWN_C, min(max(dry, 0.05), 1.0), BLOWN_M_S)


def _sunk_gsm(water_gsm: float, room_gsm: float) -> float:
    """Water (g/m²) that has sunk in when the shine goes, in paper with room for so much.

    Nearly all of a little water, never more than there is room for. Assumed; no source.
    """
    total = water_gsm + room_gsm
    return water_gsm * room_gsm / total if total > 0.0 else 0.0


def _rates(room: Room) -> tuple[float, float, float]:
    """g/m² per minute at the earliest, most likely and at the latest: fast to slow."""
    warmest = room.temperature_c
    likely = surface_c(room, radiation_w_m2k(room.temperature_c))
    coldest = surface_c(room)
    fast, usual, slow = (evaporation_gsm_min(room, t) for t in (warmest, likely, coldest))
    return fast, min(usual, fast), min(slow, usual, fast)


def _minutes(water: tuple[float, float, float], rates: tuple[float, float, float]) -> Range:
    return Range(*(_time(w, r) for w, r in zip(water, rates, strict=True)))


def _time(water: float, rate: float) -> float:
    """Minutes; a rate within rounding of zero dries nothing."""
    if water <= 0.0:
        return 0.0
    return water / rate if rate > 1e-9 else math.inf


def drying_of(technique: str, room: Room, paper_weight_gsm: float = 300.0) -> Drying:
    """How long a wash of a technique takes, with the water it usually leaves.

    A wetter hand adds in proportion. Raises RequestError for an unknown technique.
    """
    return drying(practice_of(technique).water_gsm, room, paper_weight_gsm)


def drying_words(wait: Drying) -> str:
    """What to tell a painter, in a sentence or two."""
    if wait.never:
        return "In air as damp as this nothing dries; warm the room or wait for another day."
    return (
        f"Let it dry {range_words(wait.dry)}. It is dry when it no longer feels cool to the back "
        "of the hand."
    )
