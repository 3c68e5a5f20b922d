"""What each player makes of a bar: drums, bass, accompaniment, held chords, the tune."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from runtrue.demo.score import Clock, Note, Section
from runtrue.demo.theory import Chord, Theme, vary


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroke of a pattern: drum, place in eighths, how loud, and how often it is played at all."""

    drum: str
    eighth: float
    level: float
    chance: float = 1.0


def _every(drum: str, step: int, strong: float, weak: float, *, first: int = 0) -> tuple[Stroke, ...]:
    """A drum on every ``step``-th eighth of the longest bar, the beats ``strong``, the others ``weak``."""
    return tuple(Stroke(drum, e, strong if e % 2 == 0 else weak) for e in range(first, 8, step))


PATTERNS: dict[str, tuple[tuple[Stroke, ...], ...]] = {
    "backbeat": (
        (
            *_every("hat", 1, 0.5, 0.33),
            *(Stroke("hat", e + 0.5, 0.2, 0.12) for e in range(8)),
            Stroke("snare", 2, 0.85), Stroke("snare", 6, 0.85), Stroke("snare", 4.5, 0.14, 0.4),
            Stroke("kick", 0, 0.9), Stroke("kick", 3, 0.6, 0.5), Stroke("kick", 4, 0.72), Stroke("kick", 7, 0.5, 0.15),
        ),
        (
            *_every("hat", 1, 0.5, 0.33)[:7], Stroke("open_hat", 7, 0.4, 0.6),
            Stroke("snare", 2, 0.85), Stroke("snare", 6, 0.88), Stroke("snare", 5.5, 0.16, 0.3),
            Stroke("kick", 0, 0.9), Stroke("kick", 3, 0.72), Stroke("kick", 5, 0.66),
        ),
    ),
    "swing": (
        (
            *_every("ride", 2, 0.55, 0.4), Stroke("ride", 3, 0.4), Stroke("ride", 7, 0.4),
            Stroke("foot", 2, 0.42), Stroke("foot", 6, 0.42),
            Stroke("kick", 0, 0.5), Stroke("kick", 5, 0.36, 0.2),
            Stroke("snare", 3, 0.26, 0.25), Stroke("snare", 5, 0.28, 0.2), Stroke("snare", 7, 0.3, 0.3),
        ),
    ),
    "bossa": tuple(
        (
            *_every("hat", 1, 0.45, 0.3),
            *(Stroke("rim", e, 0.5) for e in clave),
            Stroke("kick", 0, 0.6), Stroke("kick", 3, 0.42), Stroke("kick", 4, 0.6), Stroke("kick", 7, 0.42),
        )
        for clave in ((0, 3, 6), (2, 5))
    ),
    "brushes": (
        (*_every("brush", 2, 0.42, 0.0), Stroke("brush", 7, 0.25, 0.3), Stroke("foot", 2, 0.3), Stroke("kick", 0, 0.3)),
    ),
}  # fmt: skip
"""Strokes of one or two bars that alternate; a bar of three beats plays those that fit."""
_PANS = {
    "hat": 0.4, "open_hat": 0.4, "foot": 0.35, "ride": 0.5, "crash": -0.45, "rim": -0.15, "snare": 0.06, "brush": 0.1,
    "tom_high": 0.35, "tom_mid": 0.0, "tom_low": -0.4,
}  # fmt: skip
_ROLL = ("snare", "tom_high", "tom_high", "tom_mid", "tom_mid", "tom_low", "tom_low", "kick")


def drum_bar(clock: Clock, bar: int, level: float, *, first: bool, fill: bool) -> Iterator[Note]:
    """One bar of the style's drumming; ``first`` opens a section with a crash, ``fill`` closes it with a roll."""
    style, rng = clock.style, clock.rng
    pattern = PATTERNS[style.drums][bar % len(PATTERNS[style.drums])]
    roll = fill and style.drums != "brushes"
    body = 2 * style.beats - (4 if roll else 0)
    strokes = [s for s in pattern if s.eighth < body]
    if first:
        strokes.append(Stroke("crash", 0, 0.55))
    if roll:
        strokes += [Stroke(drum, body + k / 2, 0.45 + 0.06 * k, 0.85) for k, drum in enumerate(_ROLL)]
    for stroke in strokes:
        if rng.random() >= stroke.chance:
            continue
        loud = level * stroke.level * float(np.exp(rng.normal(0.0, 0.12)))
        start = clock.at(bar, stroke.eighth, loose=0.5)
        pan = _PANS.get(stroke.drum, 0.0)
        yield Note(start=start, length=4.0, pitch=0.0, level=loud, voice=stroke.drum, pan=pan)


def bass_bar(clock: Clock, bar: int, level: float, chord: Chord, following: Chord) -> Iterator[Note]:
    """One bar of bass that leads to the chord that follows."""
    style, rng = clock.style, clock.rng
    root = style.tonic + chord.root
    while root > 45:
        root -= 12
    while root < 33:
        root += 12
    nxt = style.tonic + following.root
    nxt += 12 * round((root - nxt) / 12)
    fifth = root + (chord.tones[2] - chord.tones[0])
    third = root + (chord.tones[1] - chord.tones[0])
    approach = nxt + int(rng.choice((-1, 1, 2, -2)))
    if style.bass == "walking":
        line = [root, int(rng.choice((third, fifth, root + 12 if root < 38 else third))), fifth, approach]
        plan = [(2.0 * k, 1.9, p) for k, p in enumerate([*line[: style.beats - 1], approach])]
    elif style.bass == "roots":
        plan = [(0.0, 2.0 * style.beats - 0.3, root)]
    elif style.beats == 3:
        plan = [(0.0, 3.6, root), (4.0, 1.8, fifth)]
    else:
        plan = [(0.0, 2.6, root), (3.0, 0.9, root), (4.0, 1.8, fifth), (6.0, 0.9, root), (7.0, 0.9, approach)]
        if rng.random() < 0.4:
            plan.pop(1)
    voice = "upright" if style.bass in {"walking", "roots"} else "bass"
    for eighth, length, pitch in plan:
        loud = level * (0.9 if eighth == 0 else 0.75) * float(np.exp(rng.normal(0.0, 0.08)))
        yield Note(start=clock.at(bar, eighth), length=length * clock.beat / 2, pitch=pitch, level=loud, voice=voice)


LEAD_LEVELS = {"piano": 2.4, "guitar": 1.8, "epiano": 1.5}
"""How much louder than as accompaniment a voice plays the tune, linear."""

_COMP_RHYTHMS = {
    "offbeats": ((1, 0.8), (3, 0.8), (5, 0.8), (7, 0.8)),
    "charleston": ((0, 2.4), (3, 2.5)),
    "halves": ((0, 3.8), (4, 3.6)),
    "whole": ((0, 7.6),),
}


def comp_bar(clock: Clock, bar: int, level: float, notes: tuple[int, ...]) -> Iterator[Note]:
    """One bar of the instrument that accompanies, on the ``notes`` of a voicing."""
    style, rng = clock.style, clock.rng
    eighths = 2 * style.beats
    half = clock.beat / 2
    voice = style.comp_voice
    pans = {"guitar": 0.6, "piano": -0.5, "epiano": -0.45, "organ": -0.2}
    pan = pans.get(voice, 0.0)
    if style.comp == "arpeggio":
        order = [0, 1, 2, 3, 2, 1, 2, 3] if rng.random() < 0.7 else [0, 2, 1, 3, 2, 3, 1, 2]
        for e in range(eighths):
            loud = level * (0.8 if e % 2 == 0 else 0.6) * float(np.exp(rng.normal(0.0, 0.1)))
            pitch = notes[order[e % 8] % len(notes)]
            where = pan + 0.02 * (pitch - 62)
            yield Note(start=clock.at(bar, e), length=half * 3.2, pitch=pitch, level=loud, voice=voice, pan=where)
        return
    for eighth, length in _COMP_RHYTHMS[style.comp]:
        if eighth >= eighths:
            continue
        if style.comp == "charleston" and rng.random() < 0.2:
            continue
        start = clock.at(bar, eighth)
        strum = 0.009 if voice == "guitar" else 0.003
        for k, pitch in enumerate(notes):
            loud = level * 0.62 * float(np.exp(rng.normal(0.0, 0.08)))
            where = pan + 0.018 * (pitch - 62)
            hold = min(length, eighths - eighth - 0.2) * half
            yield Note(start=start + strum * k, length=hold, pitch=pitch, level=loud, voice=voice, pan=where)


def pad_bar(clock: Clock, bar: int, level: float, notes: tuple[int, ...], voice: str) -> Iterator[Note]:
    """One bar of held chords behind the others."""
    for k, pitch in enumerate(notes):
        up = pitch + 12 if k >= 2 and voice == "strings" else pitch
        start = clock.at(bar, 0, loose=2.0)
        yield Note(start=start, length=clock.bar * 0.98, pitch=up, level=0.4 * level, voice=voice, pan=0.25 * (k - 1.5))


def lead_line(clock: Clock, bar: int, section: Section, theme: Theme, voice: str, *, repeat: bool) -> Iterator[Note]:
    """The tune of a section, from bar ``bar`` of the piece."""
    style = clock.style
    tune = vary(clock.rng, theme.tune) if repeat else theme.tune
    eighths = 2 * style.beats
    half = clock.beat / 2
    level = section.level * LEAD_LEVELS.get(voice, 1.0)
    for onset, length, pitch in tune:
        b, e = divmod(onset - section.first * eighths, eighths)
        if not 0 <= b < section.bars:
            continue
        accent = 0.85 if e % 4 == 0 else 0.72
        loud = level * accent * float(np.exp(clock.rng.normal(0.0, 0.08)))
        start = clock.at(bar + int(b), e, loose=1.6)
        yield Note(start=start, length=length * half, pitch=pitch, level=loud, voice=voice, pan=0.12)
