"""One recording's pages and sounds on a told story: what the page says is what the result says."""

import io
import json
import re
import socket
import struct
import time
from pathlib import Path

import httpx2 as httpx
import numpy as np
import pytest
import soundfile

from runtrue.paper.faults import Fault
from runtrue.records import open_book, queue, results
from runtrue.workflow.actions import asks
from runtrue.workflow.pages.recording import packed
from runtrue.workflow.pages.taking import fields
from runtrue.workflow.requests import ListenCheckRequest
from tests.pages.conftest import Told, own_copy, serving
from tests.pages.story import SCRAP

pytestmark = [pytest.mark.sound, pytest.mark.slow]


def test_the_first_screen_says_what_to_hold_and_where(told: Told) -> None:
    page = told.client.get("/index.json").json()
    assert page["head"]["said"] == f"Copies 181 to 352 of stamper A-M1-S1 share one tick at 0:{SCRAP}."
    assert page["head"]["act"] == "Hold boxes 7 to 16."
    assert [row["box"] for row in page["boxes"]] == [str(box) for box in range(7, 17)]
    assert page["head"]["verdict"] == "fail"
    text = told.client.get("/").text
    assert "Hear it" in text
    assert "Show boxes" in text


def test_the_difference_shows_the_tick_where_it_was_put(told: Told) -> None:
    path = told.recording("c2")
    sounds = {}
    for which in ("capture", "reference", "difference"):
        answer = told.client.get(f"{path}/sound/{which}.wav", params={"at": SCRAP})
        assert answer.headers["content-type"] == "audio/wav"
        sounds[which], rate = soundfile.read(io.BytesIO(answer.content))
        assert rate == 48_000
        assert len(sounds[which]) / rate == pytest.approx(4.0, abs=0.05)
    loud = {which: 10.0 * np.log10(np.mean(np.square(sound))) for which, sound in sounds.items()}
    assert loud["capture"] == pytest.approx(loud["reference"], abs=0.5)
    assert loud["difference"] < loud["capture"] - 20.0
    middle = len(sounds["difference"]) // 2
    peak = int(np.abs(sounds["difference"]).max(axis=1).argmax())
    assert abs(peak - middle) < 0.01 * 48_000


def test_waves_are_the_same_three_to_the_sample(told: Told) -> None:
    path = told.recording("c2")
    body = told.client.get(f"{path}/waves.bin", params={"at": SCRAP}).content
    step, count, start = np.frombuffer(body[:12], dtype="<f4")
    columns = np.frombuffer(body[12:], dtype="<f4").reshape(6, int(count))
    left = columns[4]
    assert abs(1000.0 * (start + step * int(np.abs(left).argmax()))) < 1.0  # ms from the tick


def test_a_player_may_ask_for_ranges(told: Told) -> None:
    path = told.recording("c2")
    whole = told.client.get(f"{path}/sound/capture.wav", params={"at": SCRAP}).content
    part = told.client.get(f"{path}/sound/capture.wav", params={"at": SCRAP}, headers={"range": "bytes=100-199"})
    assert part.status_code == 206
    assert part.content == whole[100:200]
    assert part.headers["content-range"] == f"bytes 100-199/{len(whole)}"
    end = told.client.get(f"{path}/sound/capture.wav", params={"at": SCRAP}, headers={"range": "bytes=-10"})
    assert end.content == whole[-10:]
    beyond = told.client.get(f"{path}/sound/capture.wav", params={"at": SCRAP}, headers={"range": "bytes=99999999-"})
    assert beyond.status_code == 416
    file = told.client.get(f"{path}/sound", headers={"range": "bytes=0-3"})
    assert (file.status_code, file.content) == (206, b"RIFF")


def test_marks_travel_as_columns() -> None:
    found = [
        Fault(
            kind="tick", programme_s=1.0, angle_deg=10.0, angle_u95_deg=1.0, radius_mm=80.0, weight=30.0, failing=True
        ),
        Fault(kind="jump", programme_s=2.0, angle_deg=20.0, angle_u95_deg=0.0, radius_mm=79.0),
    ]
    body = packed(found)
    assert struct.unpack("<I", body[:4]) == (2,)
    assert np.frombuffer(body[4:36], "<f4").tolist() == [1.0, 2.0, 10.0, 20.0, 80.0, 79.0, 30.0, 0.0]
    assert np.frombuffer(body[36:], "<u2").tolist() == [1, 2]


def test_what_a_listener_says_stands_in_the_book(told: Told) -> None:
    path = told.recording("c2")
    form = {"programme_s": f"{SCRAP}", "word": "objectionable", "token": told.token()}
    assert told.client.post(f"{path}/heard", data=form, follow_redirects=False).status_code == 303
    heard = told.client.get(f"{path}.json", params={"at": SCRAP}).json()["chosen"]["heard"]
    assert [(row["who"], row["word"]) for row in heard] == [("Tamsin Vey", "objectionable")]


@pytest.mark.parametrize("token", ["", "0" * 64])
def test_a_form_without_its_token_changes_nothing(told: Told, token: str) -> None:
    path = told.recording("c2")
    told.token()
    form = {"programme_s": f"{SCRAP}", "word": "heard", "token": token}
    assert told.client.post(f"{path}/heard", data=form).status_code == 403
    assert told.client.get(f"{path}.json", params={"at": SCRAP}).json()["chosen"]["heard"] == []


def test_a_recording_that_was_let_go_keeps_its_page(told: Told) -> None:
    path = told.recording("c2")
    for file in (told.book.place.store / "captures").rglob("*"):
        if file.is_file():
            file.unlink()
    assert told.client.get(path).status_code == 200
    answer = told.client.get(f"{path}/sound/capture.wav", params={"at": SCRAP})
    assert answer.status_code == 404
    assert "gone" in answer.text or "missing" in answer.text


def put(told: Told, name: str, content: bytes, **values: str) -> tuple[int, str]:
    answer = told.client.post(
        "/recordings", data={"token": told.token(), "format": "7in-45", **values},
        files={"capture": (name, content)}, headers={"accept": "application/json"},
    )  # fmt: skip
    return answer.status_code, answer.text


def left_behind(told: Told) -> list[Path]:
    return [path for path in (told.book.place.store / "captures").rglob(".part/*") if path.is_file()]


@pytest.mark.parametrize(
    ("content", "values", "said"),
    [
        (b"no sound at all", {}, "capture"),
        (b"", {}, "capture"),
        (b"RIFF\x00\x00\x00\x00WAVE", {}, "capture"),
        (b"whole", {"rpm": "fast"}, "rpm"),
        (b"whole", {"rpm": "5000"}, "rpm"),
        (b"whole", {"format": "13in-33"}, "format"),
        (b"whole", {"known_reference": "ff" * 32}, "ff"),
    ],
)
def test_what_is_not_usable_is_said_and_leaves_nothing(
    told: Told, content: bytes, values: dict[str, str], said: str
) -> None:
    before = sorted((told.book.place.store / "captures").rglob("*"))
    whole = (told.folder / "late-copy.wav").read_bytes() if content == b"whole" else content
    code, text = put(told, "mine.wav", whole, **values)
    assert code in (404, 422)
    assert said in json.loads(text)["error"]
    assert left_behind(told) == []
    assert sorted(p for p in (told.book.place.store / "captures").rglob("*") if p.name != ".part") == before


def test_a_name_with_a_path_is_a_name(told: Told) -> None:
    code, _ = put(told, "../../etc/evil.wav", (told.folder / "late-copy.wav").read_bytes())
    assert code == 201
    assert "evil.wav" in told.client.get("/work").text
    assert not list(told.folder.parent.rglob("etc"))


def test_a_form_is_taken_waits_and_is_stopped(told: Told) -> None:
    code, text = put(told, "late copy.wav", (told.folder / "late-copy.wav").read_bytes(), hole_mm="7.24")
    assert code == 201
    line = told.client.get("/work.json").json()["lines"][0]
    assert (line["name"], line["state"]) == ("late copy.wav", "waiting")
    stopped = told.client.post(f"/work/{json.loads(text)['task']}/stop", data={"token": told.token()})
    assert stopped.status_code == 200
    assert told.client.get("/work.json").json()["lines"][0]["state"] == "cancelled"


def test_parts_that_a_killed_program_left_are_tidied(told: Told) -> None:
    part = told.book.place.store / "captures" / ".part" / "left"
    part.parent.mkdir(exist_ok=True)
    part.write_bytes(b"half a recording")
    assert results.tidy(told.book.place.store, 3600.0, time.time() + 7200.0) == 1
    assert left_behind(told) == []


def test_the_form_asks_for_every_number_that_the_command_takes() -> None:
    numbers = {item.name for item, how in asks(ListenCheckRequest) if how.kind == "number"}
    assert {one.name for one in fields()} == numbers


def test_work_survives_a_restart(told: Told) -> None:
    put(told, "late.wav", (told.folder / "late-copy.wav").read_bytes())
    with told.book.read() as connection:
        rows = queue.tasks(connection)
    assert rows[-1].state == "waiting"
    assert Path(rows[-1].request["capture"]).is_file()


def test_a_program_killed_in_mid_upload_leaves_nothing(story: Path, tmp_path: Path) -> None:
    book = own_copy(story, tmp_path)
    captures = tmp_path / "book-store" / "captures"
    before = sorted(path for path in captures.rglob("*") if path.is_file())
    with serving(book) as (process, port):
        page = httpx.get(f"http://127.0.0.1:{port}/", timeout=60.0)
        found = re.search(r'name="token" content="([0-9a-f]+)"', page.text)
        assert found is not None
        parts = [
            f'--x\r\ncontent-disposition: form-data; name="token"\r\n\r\n{found[1]}\r\n',
            '--x\r\ncontent-disposition: form-data; name="capture"; filename="half.wav"\r\n\r\n',
        ]
        head = (
            f"POST /recordings HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\ncookie: runtrue={page.cookies['runtrue']}\r\n"
            "content-type: multipart/form-data; boundary=x\r\ncontent-length: 50000000\r\n\r\n"
        )
        with socket.create_connection(("127.0.0.1", port)) as line:
            line.sendall((head + "".join(parts)).encode() + bytes(4_000_000))
            time.sleep(0.5)
            process.kill()
            process.wait(10)
    assert sorted(path for path in captures.rglob("*") if path.is_file()) == before
    with open_book(str(book)).read() as connection:
        assert queue.tasks(connection) == []
