"""Recordings: the list, one recording, its sounds, its marks, what listeners say of it."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi import Path as Named
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from runtrue.web.guard import own_form
from runtrue.web.page import At, page, rendered, wants_json
from runtrue.web.ranges import ranged
from runtrue.workflow.pages.recording import RecordingPage, marks_of, note_heard, recording_page
from runtrue.workflow.pages.recordings import RecordingsPage, recordings_page
from runtrue.workflow.pages.sound import Which, sound_at, spectrogram, waves_at, whole_file
from runtrue.workflow.pages.taking import FILES, Given, WorkPage, stop, take_in, work_page

router = APIRouter()

Key = Annotated[str, Named(min_length=1, max_length=80)]
Time = Annotated[float, Query(ge=0.0, le=7200.0)]


@page(router, "/recordings", "recordings.html")
def recordings(desk: At) -> RecordingsPage:
    """The recordings of the book, the newest first."""
    return recordings_page(desk.ports)


@page(router, "/recordings/{key}", "recording.html")
def recording(
    desk: At, key: Key, at: Annotated[float | None, Query(ge=0.0, le=7200.0)] = None,
    face: Annotated[str, Query(pattern="^(playing|stamper)$")] = "playing",
) -> RecordingPage:  # fmt: skip
    """One recording with its verdict and why."""
    return recording_page(desk.ports, key, at=at, face=face)


@router.post("/recordings", dependencies=[own_form], response_model=None)
async def take(request: Request, desk: At) -> Response:
    """Take a recording in and let it be judged."""
    async with request.form(max_files=len(FILES), max_fields=40, max_part_size=1 << 16) as form:
        files = {
            name: Given(name=part.filename, stream=part.file)
            for name, part in form.items()
            if isinstance(part, UploadFile) and part.filename and name in FILES
        }
        values = {name: part for name, part in form.items() if isinstance(part, str)}
        task = await run_in_threadpool(take_in, desk.ports, files, values)
    if wants_json(request):
        return JSONResponse({"task": task}, 201)
    return RedirectResponse("/work", 303)


@page(router, "/work", "work.html")
def work(desk: At) -> WorkPage:
    """Recordings that wait or are being judged."""
    return work_page(desk.ports)


@router.post("/work/{task}/stop", dependencies=[own_form], response_model=None)
def stopped(desk: At, task: Annotated[str, Named(max_length=60)]) -> Response:
    """Stop a piece of work."""
    stop(desk.ports, task)
    return RedirectResponse("/work", 303)


@router.get("/recordings/{key}/sound", response_class=FileResponse)
def sound(desk: At, key: Key) -> FileResponse:
    """The whole recording; a player asks for ranges of it."""
    path, kind = whole_file(desk.ports, key)
    return FileResponse(path, media_type=kind)


@router.get("/recordings/{key}/sound/{which}.wav")
def excerpt(request: Request, desk: At, key: Key, which: Which, at: Time) -> Response:
    """A few seconds about a place: the capture, the reference as this rig plays it, or the difference."""
    return ranged(request, sound_at(desk.ports, key, which, at), "audio/wav")


@router.get("/recordings/{key}/waves.bin")
def waves(desk: At, key: Key, at: Time) -> Response:
    """The three sounds sample by sample: three Float32 (rate, samples, start), then six columns of Float32."""
    return Response(waves_at(desk.ports, key, at), media_type="application/octet-stream")


@router.get("/recordings/{key}/spectrogram/{which}.png")
def spectrum(desk: At, key: Key, which: Which, at: Time, dark: bool = False) -> Response:
    """Half a second about a place, 0 to 16 kHz upward."""
    return Response(
        spectrogram(desk.ports, key, which, at, dark=dark), media_type="image/png",
        headers={"cache-control": "private, max-age=600"},
    )  # fmt: skip


@router.get("/recordings/{key}/marks.bin")
def marks(desk: At, key: Key) -> Response:
    """Every mark with its place, column by column."""
    return Response(marks_of(desk.ports, key), media_type="application/octet-stream")


@router.post("/recordings/{key}/heard", dependencies=[own_form], response_model=None)
def heard(
    request: Request, desk: At, key: Key, programme_s: Annotated[float, Form(ge=0.0, le=7200.0)],
    word: Annotated[str, Form(pattern="^(heard|not_heard|objectionable)$")],
) -> Response:  # fmt: skip
    """Note what the listener says of a place."""
    note_heard(desk.ports, key, programme_s, word)
    if wants_json(request):
        return rendered(request, "recording.html", recording_page(desk.ports, key, at=programme_s))
    return RedirectResponse(f"/recordings/{key}?at={programme_s:.3f}#hear", 303)
