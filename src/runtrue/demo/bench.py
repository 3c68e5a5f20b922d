"""The bench of the story as files that `listen check` reads: limits, rig, and what is asked of each recording."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from runtrue.demo.scenario import Copy, Playing, Scenario
from runtrue.workflow.requests import ListenCheckRequest


def limits_text(story: Scenario) -> str:
    """The house's limits as a limits file."""
    parts = [_table("file", story.limits["file"])]
    parts += [_table("limit", limit, many=True) for limit in story.limits["limit"]]
    return "\n".join(parts)


def rig_text(story: Scenario) -> str:
    """The player as a rig file: what the people of the story know of it."""
    rig, head = story.rig, story.limits["file"]
    arm = {key: rig.player["arm"][key] for key in ("length_mm", "overhang_mm")}
    platter = {"player_swing_percent": rig.player_swing_percent, "spindle_mm": rig.spindle_mm}
    return "\n".join(
        (
            _table("rig", {"name": rig.name, "owner": head["owner"], "date": head["date"]}),
            _table("arm", arm),
            _table("platter", platter),
            _table("stylus", {"id": rig.stylus}),
        )
    )


def _table(name: str, values: Mapping[str, Any], *, many: bool = False) -> str:
    """A TOML table of plain words and numbers; both are written as in JSON."""
    head = f"[[{name}]]" if many else f"[{name}]"
    return "\n".join([head, *(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items()), ""])


def name_of(copy: Copy, playing: Playing) -> str:
    """Name of the files of one playing: "c7-B-away"."""
    return "-".join(part for part in (copy.id, playing.label, playing.push, playing.state) if part)


def request_of(
    story: Scenario, playing: Playing, *, capture: Path, reference: Path, limits: Path, rig: Path
) -> ListenCheckRequest:
    """What is asked of a recording: laid over the side that its label names."""
    disc = story.side_of(playing.label).disc
    return ListenCheckRequest(
        capture=capture,
        reference=reference,
        format=story.title.format,
        start_radius_mm=disc["start_radius_mm"],
        end_radius_mm=disc["end_radius_mm"],
        hole_mm=story.rig.hole_mm,
        rig=rig,
        limits=limits,
    )
