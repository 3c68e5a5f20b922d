"""The dossier on paper: each page says what a stranger needs, in embedded faces, in grey, the same bytes each time."""

import re
import zlib
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pypdfium2
import pytest

from runtrue.contract.listening import NotJudged
from runtrue.paper import page
from runtrue.paper.copies import Entry
from runtrue.paper.dossier import DossierInput, Reason, dossier_pages, write_dossier, write_report
from runtrue.paper.drawing import Box, Drawing, texts
from runtrue.paper.layout import PRINT
from runtrue.paper.recording import not_judged_words
from runtrue.paper.words import NO_BREAK
from tests import paper_samples as samples
from tests.test_paper_pictures import SHARED, entries


def dossier(found: tuple[Entry, ...] | None = None, **changes: str) -> DossierInput:
    base = DossierInput(
        plant="Havelmoor Pressworks", title="HLM 0217, “Slow Lighthouse”", sheet_name="Dossier 0217",
        date="25 November 2026", version="0.1.0", entries=entries() if found is None else found,
        advice="Hold copies from closure 100 on.", shared=SHARED,
    )  # fmt: skip
    return replace(base, **changes)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("paper") / "dossier.pdf"
    write_dossier(path, dossier())
    return path


@pytest.fixture(scope="module")
def told(written: Path) -> list[str]:
    pages = pypdfium2.PdfDocument(written)
    return [" ".join(one.get_textpage().get_text_bounded().replace(NO_BREAK, " ").split()) for one in pages]


def problems(drawing: Drawing) -> list[str]:
    """Texts that leave the margins or lie on each other."""
    inner = Box(
        left=page.MARGIN, top=page.MARGIN - 2.0, right=page.WIDTH - page.MARGIN, bottom=page.HEIGHT - page.MARGIN
    )
    found = list(texts(drawing.items))
    bad = [f"outside: {t.text}" for t in found if not t.box.within(inner, slack=1.0)]
    air = -0.12 * PRINT.label
    bad += [f"overlap: {a.text} | {b.text}" for a, b in combinations(found, 2) if a.box.touches(b.box, air=air)]
    bad += [f"tiny: {t.text}" for t in found if t.size < PRINT.label]
    return bad


def test_first_page_says_what_was_found_and_what_to_do(told: list[str]) -> None:
    assert "5 of 8 copies fail, 2 cannot be judged." in told[0]
    assert "Hold copies from closure 100 on." in told[0]
    assert "copy 2 (off-centre)" in told[0]
    assert "page 1 of 12" in told[0]
    for copy in range(1, 9):
        assert f"Copy {copy}" in told[0]
    assert "268 ± 30" in told[0]
    assert "± (95 %)" in told[0]
    assert "not played" in told[0]


def test_each_recording_has_its_page_with_sentence_limits_and_reasons(told: list[str]) -> None:
    assert len(told) == 12
    assert "Copy 2, side A, fails: 268 ± 31 μm off-centre, limit 200." in told[2]
    assert "a tick at 1:27.0 stands 31.20 ± 0.90 dB over the noise" in told[3]
    assert "137.1 ± 1.1" in told[3]
    assert "120.0 ± 2.2" in told[3]
    assert "The arm is not given" in told[3]
    assert "Rumble: the side has no silent groove" in told[3]
    assert "Jumps 1:01.0 forward one turn; 2:00.4 back one turn." in told[6]
    assert "like a non-fill" in told[6]
    assert "cannot be judged: the recording does not show which programme it holds" in told[7]
    assert all("runtrue 0.1.0" in text and "Havelmoor Pressworks" in text for text in told)


def test_the_page_numbers_of_the_table_are_right(told: list[str]) -> None:
    numbers = [int(n) for n in re.findall(r"(\d+) (?=Copy \d|50 mm)", told[0][told[0].index("Page") :])]
    assert numbers[:1] == [2]
    assert "Copy 1, side B, passes" in told[9]


def test_nothing_overlaps_leaves_the_margins_or_is_tiny() -> None:
    for number, drawing in enumerate(dossier_pages(dossier()), 1):
        assert problems(drawing) == [], f"page {number}"


@pytest.mark.parametrize("name", list(samples.SAMPLES))
def test_a_report_of_any_recording_fits_its_page(name: str, tmp_path: Path) -> None:
    listening, traces = samples.SAMPLES[name]()
    entry = Entry(copy="copy 11", side="A", listening=listening, traces=traces, advice="Play it again." * 3)
    for drawing in dossier_pages(dossier((entry,))):
        assert problems(drawing) == []
    write_report(tmp_path / "one.pdf", listening, traces, advice="Play it again.")
    text = pypdfium2.PdfDocument(tmp_path / "one.pdf")[0].get_textpage().get_text_bounded()
    assert listening.input.file in text.replace("\r\n", " ")


def test_a_page_with_far_too_much_to_say_still_fits() -> None:
    listening, traces = samples.many_ticks()
    long = "the recording is too short, too quiet and too far from what the reference holds to tell " * 3
    listening = replace(
        listening,
        cautions=[f"{long} {k}" for k in range(9)],
        not_judged=[NotJudged(key=f"noise.key_{k}_db", reason=f"{long} {k}") for k in range(20)],
        findings=listening.findings * 4,
    )
    entry = Entry(
        copy="copy 11",
        side="A",
        closure=1,
        stamper="A-M1-S1",
        listening=listening,
        traces=traces,
        advice=long,
        note="pushed away",
    )
    found = dossier(
        (entry,), title="A title that is much longer than any title has a right to be " * 3, plant="Plant " * 30
    )
    for drawing in dossier_pages(found):
        assert problems(drawing) == []


def test_sixty_recordings_run_over_to_further_pages() -> None:
    listening, traces = samples.passes()
    found = tuple(
        Entry(copy=f"copy {k}", side="AB"[k % 2], closure=k * 7, stamper="S1", listening=listening, traces=traces)
        for k in range(60)
    )
    drawings = dossier_pages(dossier(found))
    assert len(drawings) > 61
    for drawing in drawings[:4]:
        assert problems(drawing) == []
    shown = {t.text for drawing in drawings[: len(drawings) - 60] for t in texts(drawing.items)}
    assert {f"Copy {k}" for k in range(60)} <= shown


def test_all_pass_and_none_played() -> None:
    listening, traces = samples.passes()
    good = tuple(Entry(copy=f"copy {k}", side="A", listening=listening, traces=traces) for k in (1, 2))
    assert any(t.text.startswith("All 2 copies pass.") for t in texts(dossier_pages(dossier(good))[0].items))
    (only,) = dossier_pages(dossier((Entry(copy="copy 1", side="A"),)))
    assert any("No copy was played." in t.text for t in texts(only.items))


def test_same_input_gives_the_same_bytes(written: Path, tmp_path: Path) -> None:
    write_dossier(tmp_path / "again.pdf", dossier())
    assert (tmp_path / "again.pdf").read_bytes() == written.read_bytes()


def test_every_face_is_embedded(written: Path) -> None:
    content = written.read_bytes()
    names = set(re.findall(rb"/BaseFont\s*/([^\s/<>]+)", content))
    assert names
    assert all(re.match(rb"[A-Z]{6}\+", name) for name in names), names
    assert content.count(b"/FontFile2") >= len(names)


def test_paper_is_grey(written: Path) -> None:
    image = pypdfium2.PdfDocument(written)[2].render(scale=1.0).to_pil().convert("RGB")
    assert all(r == g == b for _, (r, g, b) in image.getcolors(maxcolors=1 << 20) or [])
    streams = re.findall(rb"stream\r?\n(.*?)endstream", written.read_bytes(), re.DOTALL)
    used: set[bytes] = set()
    for stream in streams:
        try:
            text = zlib.decompress(_plain(stream))
        except zlib.error:
            continue
        used |= set(re.findall(rb"([\d.]+ [\d.]+ [\d.]+) rg", text))
    assert used
    assert all(len(set(colour.split())) == 1 for colour in used)


def _plain(stream: bytes) -> bytes:
    import base64

    body = stream.strip()
    return base64.a85decode(body[:-2]) if body.endswith(b"~>") else body


def test_a_title_without_glyphs_is_said(tmp_path: Path) -> None:
    drawing = dossier_pages(dossier(title="夜の灯台"))[0]
    assert any("glyph missing in font" in t.text for t in texts(drawing.items))


def test_length_of_the_check_line_is_true() -> None:
    line = next(
        s for s in page.frame(page.Sheet(plant="P", name="N", key="k" * 12, version="1"), 1, 1)
        if getattr(s, "points", None) and len(s.points) == 4  # type: ignore[union-attr]
    )  # fmt: skip
    xs = [x for x, _ in line.points]  # type: ignore[union-attr]
    assert max(xs) - min(xs) == pytest.approx(50.0)


def test_another_programme_is_told_in_one_breath() -> None:
    listening, _ = samples.empty("other")
    missing = [
        NotJudged(key=key, reason="the capture holds another programme than the reference")
        for key in (
            "programme.start_s", "speed.deviation_percent", "ticks", "trains", "jumps", "noise.surface_db_a",
            "noise.hum_db", "level_reference", "findings.jumps_per_side",
        )
    ]  # fmt: skip
    missing.append(NotJudged(key="bursts", reason="zones of noise are not judged by this version"))
    assert not_judged_words(replace(listening, not_judged=missing)) == [
        ("All that is laid over the reference", "the capture holds another programme than the reference"),
        ("This version does not judge", "noise zones"),
    ]


def test_with_reasons_the_first_page_keeps_every_copy_and_the_table_follows(tmp_path: Path) -> None:
    reasons = tuple(
        Reason(station="press", found=f"Finding {k} " + "with what bears it out " * 8, act="Do this about it.")
        for k in range(8)
    )
    path = tmp_path / "dossier.pdf"
    write_dossier(path, replace(dossier(), reasons=reasons))
    first, second, *_ = [" ".join(one.get_textpage().get_text_bounded().split()) for one in pypdfium2.PdfDocument(path)]
    assert "more recordings" not in first
    assert all(f"Press: Finding {k} " in first for k in range(8))
    assert "Verdict" not in first
    assert "Verdict" in second
    assert "Fail: copy" not in first
    assert not [said for one in dossier_pages(replace(dossier(), reasons=reasons)) for said in problems(one)]


@pytest.mark.parametrize("name", ["passes", "many_ticks", "jumps_and_zones", "swapped_and_cut", "unclear"])
def test_the_settings_are_never_cut(name: str) -> None:
    listening, traces = samples.SAMPLES[name]()
    entry = Entry(copy="copy 11", side="A", listening=listening, traces=traces, advice="Play it again." * 3)
    said = " ".join(t.text for t in texts(dossier_pages(dossier((entry,)))[1].items)).replace(NO_BREAK, " ")
    end = "48.0 kHz." if listening.speed.deviation_percent is None else "speed 0.0500 ± 0.0040 %."
    assert end in said[said.index("Settings:") :]
