"""Asked for the time line alone: what stands on it is told as ever, all else is missing with its reason."""

from dataclasses import replace

import pytest

from runtrue.forward import Disc
from runtrue.listen.setting import Setting
from tests.truth import listened
from tests.truth.listened import listen, piece, record


@pytest.mark.sound
def test_the_line_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def quick(disc: Disc) -> Setting:
        return replace(told(disc), quick=True)

    told = listened.setting
    monkeypatch.setattr(listened, "setting", quick)
    music = piece("band", 24.0)
    judged = listen(music, record(music, seconds=24.0))
    assert judged.heard.programme.jumps == ()
    assert judged.vector_error < judged.circle
    assert judged.scalar("speed_deviation") == pytest.approx(judged.made.truth.speed, abs=5e-5)
    assert judged.heard.ticks is None
    assert judged.heard.noise is None
    assert "only the time line" in judged.heard.reasons["ticks"]
    missing = {m.quantity: m.reason for m in judged.heard.scalars if m.value is None}
    assert {"surface", "rumble", "hum"} <= set(missing)
    assert all("only the time line" in missing[name] for name in ("surface", "rumble", "hum"))
