"""A whole piece: its form, its themes, and every player's notes in order of time."""

from collections.abc import Iterator
from dataclasses import replace

from runtrue.demo.parts import bass_bar, comp_bar, drum_bar, lead_line, pad_bar
from runtrue.demo.score import Clock, Note, Section, Style
from runtrue.demo.synthesis import Rng
from runtrue.demo.theory import CONTRAST, OPENING, Chord, Theme, build_chord, harmony, melody, voicing


def whole_bars(usable: float, bar: float) -> int:
    """How many bars of about ``bar`` [s] fill ``usable`` [s]: a multiple of four where the tempo bends that far."""
    natural = usable / bar
    fours = 4 * max(1, round(natural / 4))
    return fours if 0.85 < natural / fours < 1.18 else max(1, round(natural))


def _ring(seconds: float, ring: float) -> float:
    return min(ring, 0.25 * seconds) + 0.05


def fit_tempo(style: Style, seconds: float, *, ring: float = 2.0) -> Style:
    """The style at the tempo at which whole bars, and ``ring`` [s] for the last chord, fill ``seconds``."""
    usable = seconds - _ring(seconds, ring)
    bars = whole_bars(usable, style.beats * 60.0 / style.tempo)
    return replace(style, tempo=style.beats * 60.0 * bars / usable)


def form(style: Style, bars: int, *, dynamics: str) -> list[Section]:
    """Sections that fill ``bars`` bars. ``dynamics`` is ``even``, ``rising``, ``falling`` or ``drums_first``."""
    rhythm = {part for part, on in (("drums", style.drums), ("bass", style.bass), ("comp", style.comp)) if on}
    pad = {"pad"} if style.pad else set()
    lead = {"lead"} if style.lead else set()
    cycle = (
        ("A", 0.8, rhythm | lead),
        ("B", 1.0, rhythm | lead | pad),
        ("A", 0.9, rhythm | lead | pad),
        ("C", 0.75, rhythm | pad),
        ("B", 1.0, rhythm | lead | pad),
        ("A", 0.85, rhythm | lead),
    )
    sections: list[Section] = []
    done = 0
    if bars >= 12:
        opening = {"drums"} if dynamics == "drums_first" else (rhythm - {"bass"}) | pad
        done = 8 if dynamics == "drums_first" and bars >= 20 else 4
        level = 0.95 if dynamics == "drums_first" else 0.6
        sections.append(Section(theme="A", bars=done, first=0, level=level, parts=frozenset(opening)))
    number = 0
    longest = 4 if dynamics == "rising" and bars < 24 else 8
    while done < bars:
        theme, level, parts = cycle[number % len(cycle)]
        length = min(longest, bars - done)
        if done + length == bars and theme == "C":  # a piece does not end without its tune
            theme, level, parts = cycle[-1]
        done += length
        first = 0 if length == longest and done < bars else 8 - length
        sections.append(Section(theme=theme, bars=length, first=first, level=level, parts=frozenset(parts)))
        number += 1
    return [_shade(s, k / max(1, len(sections) - 1), dynamics) for k, s in enumerate(sections)]


def _shade(section: Section, share: float, dynamics: str) -> Section:
    """The section as loud as ``dynamics`` wants it at this share of the piece, with fewer players when soft."""
    if dynamics == "rising":
        parts = section.parts - ({"drums", "bass", "lead"} if share == 0.0 else set())
        parts = parts - ({"drums"} if share < 0.45 else set())
        return replace(section, level=section.level * (0.4 + 0.6 * min(1.0, 1.4 * share)), parts=parts)
    if dynamics == "falling":
        return replace(section, level=section.level * (1.0 - 0.75 * share))
    return section


def perform(rng: Rng, style: Style, seconds: float, *, dynamics: str = "even", ring: float = 2.0) -> list[Note]:
    """Write a piece that lasts ``seconds``, its last chord left to ring; notes in order of start.

    The tempo is bent so that whole bars fit, in fours where a sixth is enough.
    """
    style = fit_tempo(style, seconds, ring=ring)
    bars = round((seconds - _ring(seconds, ring)) * style.tempo / (60.0 * style.beats))
    clock = Clock(style, 0.05, rng)
    themes = {}
    for name, templates in (("A", OPENING), ("B", CONTRAST), ("C", OPENING)):
        chords = harmony(rng, style.mode, str(rng.choice(templates)))
        lift = 2 if name == "B" else 0
        tune = melody(rng, chords, tonic=style.tonic, mode=style.mode, beats=style.beats, lift=lift)
        themes[name] = Theme(chords, tune)
    notes: list[Note] = []
    sections = form(style, bars, dynamics=dynamics)
    at = 0
    voiced: tuple[int, ...] = (55, 59, 62, 65)
    for number, section in enumerate(sections):
        theme = themes[section.theme]
        opens = number > 0 and section.level > 0.75
        for k in range(section.bars):
            chord = theme.chords[(section.first + k) % 8]
            voiced = voicing(chord, style.tonic, voiced)
            following = theme.chords[(section.first + k + 1) % 8]
            edges = (k == 0 and opens, k == section.bars - 1)
            notes.extend(_bar(clock, at + k, section, voiced, edges=edges, chords=(chord, following)))
        if "lead" in section.parts:
            voice = style.second_lead if style.second_lead and section.theme == "B" else style.lead
            notes.extend(lead_line(clock, at, section, theme, voice, repeat=number > 3))
        at += section.bars
    notes.extend(_last_chord(clock, bars, sections[-1], style))
    return sorted((n for n in notes if n.start < seconds - 0.02), key=lambda n: n.start)


def _bar(
    clock: Clock,
    bar: int,
    section: Section,
    voiced: tuple[int, ...],
    *,
    edges: tuple[bool, bool],
    chords: tuple[Chord, Chord],
) -> Iterator[Note]:
    """Everything but the tune in one bar; ``edges`` says whether it opens the section with a crash and closes it."""
    if "drums" in section.parts:
        yield from drum_bar(clock, bar, section.level, first=edges[0], fill=edges[1] and section.bars >= 4)
    if "bass" in section.parts:
        yield from bass_bar(clock, bar, section.level, *chords)
    if "comp" in section.parts:
        yield from comp_bar(clock, bar, section.level, voiced)
    if "pad" in section.parts:
        yield from pad_bar(clock, bar, section.level, voiced, clock.style.pad)


def _last_chord(clock: Clock, bar: int, section: Section, style: Style) -> Iterator[Note]:
    home = build_chord(0, style.mode, ninth=False)
    start = clock.at(bar, 0, loose=0.0)
    level = 0.8 * section.level
    if style.comp:
        for k, pitch in enumerate(voicing(home, style.tonic, (55, 59, 62, 65))):
            s = start + 0.012 * k
            yield Note(start=s, length=3.0, pitch=pitch, level=level * 0.7, voice=style.comp_voice, pan=0.1 * (k - 1.5))
    if style.bass:
        low = style.tonic - 12 if style.tonic > 45 else style.tonic
        yield Note(
            start=start, length=3.0, pitch=low, level=level, voice="upright" if style.bass != "syncopated" else "bass"
        )
    if style.drums and style.drums != "brushes":
        yield Note(start=start, length=4.0, pitch=0, level=level * 0.6, voice="crash", pan=-0.45)
        yield Note(start=start, length=4.0, pitch=0, level=level * 0.8, voice="kick")
