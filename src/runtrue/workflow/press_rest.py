"""The moment of waiting: when the middle of a pile has cooled, given room and pile."""

from hashlib import sha256
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

import runtrue
from runtrue.contract import press_rest as printed
from runtrue.contract.press_cycle import Range
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError
from runtrue.press.cycle import drawn
from runtrue.press.layers import Layer
from runtrue.press.materials import Number, material
from runtrue.press.rest import Cooling, Pile, Room, cool, when_below
from runtrue.types import Progress
from runtrue.units import MM, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.press_requests import PressRestRequest
from runtrue.workflow.press_results import SAFETY, reasoned
from runtrue.workflow.toml_file import Strict, parse_toml, read_text

_Array = NDArray[np.float64]
DRAWS = 60
LONGEST = 48.0
"""Hours that a pile is followed."""
U95 = {"joint": 0.5, "film": 0.4, "foot": 0.6}
"""Half-widths at 95 % of ln factors, for a pile nobody has measured; our choice."""


class _Pile(Strict):
    name: Annotated[str, Field(min_length=1)]
    records: Annotated[int, Field(ge=1, le=500)]
    format: str
    thickness_mm: Annotated[float, Field(gt=0.0, le=10.0)]
    material: str = "vinyl"
    start_degc: Annotated[float, Field(ge=0.0, le=150.0)]
    start_u95_k: Annotated[float, Field(gt=0.0, le=50.0)] = 3.0
    below_degc: Annotated[float, Field(ge=0.0, le=150.0)] | None = None
    joint_w_m2k: Annotated[float, Field(gt=0.0, le=10_000.0)] | None = None
    plate_every: Annotated[int, Field(ge=0, le=500)] = 0
    plate_mm: Annotated[float, Field(gt=0.0, le=50.0)] | None = None
    plate_material: str = "aluminium"


class _Room(Strict):
    temperature_degc: Annotated[float, Field(ge=-30.0, le=60.0)]
    temperature_u95_k: Annotated[float, Field(gt=0.0, le=20.0)] = 2.0
    film_w_m2k: Annotated[float, Field(gt=0.0, le=200.0)] | None = None
    foot_w_m2k: Annotated[float, Field(gt=0.0, le=10_000.0)] | None = None


class _PileFile(Strict):
    pile: _Pile
    room: _Room


JOINT, FILM, FOOT = 65.0, 8.0, 5.0
"""Placeholders [W/(m2 K)]: 0.4 mm of air between the grooves; a pile in still air; a wooden foot (our choice)."""


def rest(request: PressRestRequest, ports: Ports, progress: Progress) -> printed.PressRest:
    """Follow a pile. Raises ``InputError`` for what is not usable."""
    check_request(request)
    where = f"pile file {request.spec}"
    text = read_text(request.spec, where)
    file = parse_toml(text, _PileFile, where)
    below = request.below_degc if request.below_degc is not None else file.pile.below_degc
    if below is None:
        raise InputError(f"{where}: [pile] key 'below_degc' is missing: add it, or give --below-degc")
    if below <= file.room.temperature_degc:
        raise InputError(
            f"below_degc must be above the room's {file.room.temperature_degc:g} degC, got {below:g} degC: no pile "
            "gets colder than its room"
        )
    laid = None if request.laid_at is None else _clock(request.laid_at)
    progress("following the pile", 0.1)
    alone = _followed(file, where, None)
    cloud = _followed(file, where, drawn({**U95, "start": file.pile.start_u95_k, "room": file.room.temperature_u95_k},
                                         DRAWS, np.random.default_rng(1)))  # fmt: skip
    hours = _hours(alone, cloud, below + ZERO_DEGC)
    result = printed.PressRest(
        file=request.spec.name,
        sha256=sha256(text.encode()).hexdigest(),
        name=file.pile.name,
        records=file.pile.records,
        plate_every=file.pile.plate_every,
        start_degc=file.pile.start_degc,
        room_degc=file.room.temperature_degc,
        below_degc=below,
        rest_h=hours,
        ready_at=None if laid is None or hours is None else _later(laid, hours.high),
        traces=_traces(alone, cloud, below + ZERO_DEGC),
        not_judged=[],
        cautions=_cautions(file),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    result.not_judged.extend(
        reasoned(
            result,
            {
                "rest_h": f"the middle is not surely below within {LONGEST:g} h",
                "ready_at": "no --laid-at was given" if laid is None else "the pile does not surely get there",
            },
        )
    )
    return result


def _clock(text: str) -> int:
    """Minutes of the day of "14:05"."""
    hour, colon, minute = text.partition(":")
    if not (colon and hour.isdigit() and minute.isdigit() and int(hour) < 24 and int(minute) < 60):
        raise InputError(f"laid_at '{text}' must be a clock time such as 14:05; correct it")
    return 60 * int(hour) + int(minute)


def _later(minutes: int, hours: float) -> str:
    days, rest_of = divmod(minutes + int(np.ceil(60.0 * hours)), 1440)
    after = "" if days == 0 else " next day" if days == 1 else f" {days} days on"
    return f"{rest_of // 60}:{rest_of % 60:02d}{after}"


def _followed(file: _PileFile, where: str, draws: dict[str, Number] | None) -> Cooling:
    pile, room = file.pile, file.room
    moved = draws or {}

    def times(value: float, name: str) -> Number:
        return value * np.exp(moved[name]) if name in moved else value

    plate = None
    if pile.plate_every > 0:
        if pile.plate_mm is None:
            raise InputError(f"{where}: [pile] key 'plate_mm' is missing; plates are given every so many: add it")
        plate = Layer(name="plate", material=material(pile.plate_material), thickness=pile.plate_mm * MM)
    return cool(
        Pile(
            records=pile.records, material=material(pile.material), thickness=pile.thickness_mm * MM,
            diameter=disc_format(pile.format).outside_diameter.value, plate_every=pile.plate_every, plate=plate,
            joint=times(JOINT if pile.joint_w_m2k is None else pile.joint_w_m2k, "joint"),
        ),
        Room(
            temperature=room.temperature_degc + ZERO_DEGC + moved.get("room", 0.0),
            film=times(FILM if room.film_w_m2k is None else room.film_w_m2k, "film"),
            foot=times(FOOT if room.foot_w_m2k is None else room.foot_w_m2k, "foot"),
        ),
        start=pile.start_degc + ZERO_DEGC + moved.get("start", 0.0), seconds=LONGEST * 3600.0,
    )  # fmt: skip


def _hours(alone: Cooling, cloud: Cooling, below: float) -> Range | None:
    one = float(when_below(alone, below)[0]) / 3600.0
    many = when_below(cloud, below) / 3600.0
    many = np.where(np.isfinite(many), many, np.inf)
    low, high = (float(v) for v in np.quantile(many, [0.025, 0.975]))
    if not (np.isfinite(one) and np.isfinite(high)):
        return None
    return Range(value=round(one, 2), low=round(min(low, one), 2), high=round(max(high, one), 2))


def _traces(alone: Cooling, cloud: Cooling, below: float) -> printed.RestTraces:
    hottest = alone.hottest[:, 0]
    ends = np.quantile(cloud.hottest, [0.025, 0.975], axis=1)
    last = int(np.argmax(ends[1] < below)) if bool((ends[1] < below).any()) else hottest.size - 1
    shown = slice(0, min(last + 12, hottest.size))

    def listed(kelvin: _Array) -> list[float]:
        return [round(float(v) - ZERO_DEGC, 2) for v in kelvin[shown]]

    return printed.RestTraces(
        time_h=[round(float(t) / 3600.0, 4) for t in alone.time[shown]], hottest_degc=listed(hottest),
        hottest_low_degc=listed(np.minimum(ends[0], hottest)), hottest_high_degc=listed(np.maximum(ends[1], hottest)),
    )  # fmt: skip


def _cautions(file: _PileFile) -> list[str]:
    said = ["All records count as laid at once, in still air: a pile that grew slowly is ready sooner."]
    if file.pile.start_degc >= 60.0 and file.pile.material == "vinyl":
        said.append("Laid above 60 °C, vinyl can bend under the pile before it has cooled (common practice).")
    named = [
        words
        for value, words in (
            (file.pile.joint_w_m2k, "joint between records"), (file.room.film_w_m2k, "film of the air"),
            (file.room.foot_w_m2k, "foot"),
        )
        if value is None
    ]  # fmt: skip
    if material(file.pile.material).placeholder:
        named.append(f"properties of {file.pile.material}")
    if named:
        said.append(f"Placeholders: {', '.join(named)}. One couple in the middle of a pile would replace them.")
    return said
