"""A listening engine for tests that need no sound judged: it returns what it is told."""

from dataclasses import dataclass, field
from pathlib import Path

from runtrue.capture.sound import Sound
from runtrue.disc.frame import Frame, Spiral
from runtrue.listen.heard import (
    ChannelOrder,
    Heard,
    HeardCentre,
    HeardJump,
    HeardProgramme,
    HeardTick,
    HeardTraces,
    HeardTrain,
    Identity,
)
from runtrue.listen.setting import Setting
from runtrue.stats.plane import plane_vector
from runtrue.types import Channel, Measurement, PlaneVector, Progress

TURN = 5.0 / 9.0


def frame(*, duration: float = 12.0) -> Frame:
    spiral = Spiral(start=0.1457, start_u95=0.001, end=0.1415, end_u95=0.0013, duration=duration)
    return Frame(turn_frequency=TURN, turn_frequency_u95=TURN * 100e-6, spiral=spiral)


def centre(offset: float = 80e-6, direction_x: float = 1.0, *, spread: float = 2e-6) -> PlaneVector:
    return plane_vector(offset * direction_x, 0.0, (spread**2, 0.0, spread**2))


def tick(time: float, prominence: float = 25.0, channel: Channel = Channel.LATERAL) -> HeardTick:
    return HeardTick(
        programme_time=time,
        time_u95=0.0003,
        capture_time=time + 4.0,
        peak=-20.0,
        prominence=prominence,
        duration=0.0004,
        channel=channel,
    )


def heard(
    *,
    identity: Identity = Identity.SAME,
    reason: str = "",
    disc: PlaneVector | None = None,
    jumps: tuple[HeardJump, ...] | None = (),
    ticks: tuple[HeardTick, ...] | None = (),
    trains: tuple[HeardTrain, ...] | None = (),
    reach: tuple[float, float] | None = (0.0, 12.0),
    speed: float | None = 0.0002,
    surface: float | None = -48.3,
    level_reference: str | None = "programme",
    cautions: tuple[str, ...] = (),
) -> Heard:
    """What a good pressing sounds like, with the differences asked for."""
    if identity is not Identity.SAME:
        return Heard(
            programme=HeardProgramme(identity=identity, reason=reason or "nothing of the reference was found"),
            frame=frame(),
            turn_fitted=False,
            centre=HeardCentre(reason=reason or "nothing of the reference was found"),
            scalars=(),
        )
    vector = disc or centre()
    scalars = (
        _scalar("speed_deviation", speed, 0.00001),
        _scalar("surface", surface, 0.5),
        _scalar("rumble", -40.0, 1.0),
        _scalar("hum", None, None),
    )
    return Heard(
        programme=HeardProgramme(
            identity=identity,
            start=4.0,
            reach=reach,
            polarity=1,
            channels=ChannelOrder.STRAIGHT,
            jumps=jumps,
            edits=(),
        ),
        frame=frame(),
        turn_fitted=True,
        centre=HeardCentre(played=vector, disc=vector, player_swing=None, separated=("player",)),
        scalars=scalars,
        ticks=ticks,
        trains=trains,
        level_reference=level_reference,
        cautions=cautions,
        traces=HeardTraces(
            time=(0.0, 1.0),
            level=(-12.0, float("nan")),
            noise=(-48.0, -48.5),
            speed_low=(-0.001, -0.001),
            speed_high=(0.001, 0.001),
            tick_threshold=(12.0, 12.0),
        ),
    )


def _scalar(name: str, value: float | None, u95: float | None) -> Measurement:
    if value is None:
        return Measurement(quantity=name, value=None, reason="no mains family stands out of the noise")
    return Measurement(quantity=name, value=value, u95=u95)


@dataclass
class FakeEngine:
    """Stands in for ``runtrue.listen.hear``; keeps what it was told. ``by_name`` goes before ``result``."""

    result: Heard = field(default_factory=heard)
    by_name: dict[str, Heard] = field(default_factory=dict)
    settings: list[Setting] = field(default_factory=list)
    workspaces: list[Path] = field(default_factory=list)
    raises: BaseException | None = None

    def __call__(
        self, capture: Sound, reference: Sound | None, setting: Setting, *, workspace: Path, progress: Progress
    ) -> Heard:
        self.settings.append(setting)
        self.workspaces.append(workspace)
        (workspace / "copy.bin").write_bytes(b"0")
        progress("listening", 0.5)
        if self.raises is not None:
            raise self.raises
        return self.by_name.get(capture.name, self.result)
