"""What is played and when: harmony, melody, bass and drums written by a seeded generator with rules.

Pitches are note numbers, 69 = 440 Hz, 12 to the octave. Times are seconds from the start of the piece.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

Rng = np.random.Generator

MAJOR = (0, 2, 4, 5, 7, 9, 11)
DORIAN = (0, 2, 3, 5, 7, 9, 10)
MINOR = (0, 2, 3, 5, 7, 8, 10)
SCALES = {"major": MAJOR, "dorian": DORIAN, "minor": MINOR}

# What a scale degree does: rest (T), leave (S), pull home (D); weights are how often it is taken.
_DEGREES = {"T": ((0, 5, 2), (0.5, 0.35, 0.15)), "S": ((3, 1, 5), (0.5, 0.4, 0.1)), "D": ((4, 4, 6), (0.5, 0.3, 0.2))}
_OPENING = ("TTSDTSDT", "TSTDTSDT", "TTTSSSDT", "TSDTSSDT")
_CONTRAST = ("STSDSTSD", "SDTTSDTD", "SSTTSSDD")

# Onsets of two-bar motifs in eighths of two 4/4 bars; a bar of three beats keeps those that fit.
_MOTIFS = (
    (0, 3, 4, 6, 8, 11, 12),
    (0, 1, 2, 4, 7, 8, 10, 12),
    (1, 2, 3, 4, 6, 9, 10, 11, 12),
    (0, 2, 3, 5, 6, 8, 14),
    (2, 3, 4, 7, 8, 11),
    (0, 4, 5, 6, 7, 8, 12),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One note or stroke: ``start`` and ``length`` [s], ``pitch`` (note number), ``level`` 0 to 1, ``pan`` -1 to 1."""

    start: float
    length: float
    pitch: float
    level: float
    voice: str
    pan: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """A chord: ``root`` and ``tones`` in semitones above the tonic, ``tones`` rising from the root."""

    root: int
    tones: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How a piece is played.

    ``swing`` is where the second eighth falls in the beat (0.5 straight, 0.66 triplet); ``humanity`` the standard
    deviation of a player's timing [s]; empty names leave a part out.
    """

    tempo: float
    beats: int = 4
    swing: float = 0.5
    tonic: int = 50
    mode: str = "major"
    drums: str = "backbeat"
    bass: str = "syncopated"
    comp: str = "offbeats"
    comp_voice: str = "epiano"
    lead: str = "reed"
    second_lead: str = ""
    pad: str = "strings"
    humanity: float = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Some bars of one kind: ``theme`` picks harmony and melody, ``level`` 0 to 1 is how loud, ``parts`` who plays."""

    theme: str
    bars: int
    level: float
    parts: frozenset[str]


def build_chord(degree: int, mode: str, *, ninth: bool) -> Chord:
    """Stack thirds on a degree 0 to 6 of the scale; the fifth degree of minor gets its leading note."""
    scale = SCALES[mode]
    tones = [scale[(degree + 2 * k) % 7] + 12 * ((degree + 2 * k) // 7) for k in range(5 if ninth else 4)]
    if degree == 4 and mode == "minor":
        tones[1] += 1
    if degree == 6 and mode == "major":  # the diminished chord is heard as the dominant without its root
        return build_chord(4, mode, ninth=ninth)
    return Chord(root=tones[0], tones=tuple(tones))


def harmony(rng: Rng, mode: str, template: str) -> list[Chord]:
    """One chord a bar over a template of functions such as ``"TTSDTSDT"``."""
    chords, last = [], -1
    for bar, function in enumerate(template):
        degrees, weights = _DEGREES[function]
        degree = int(rng.choice(degrees, p=weights))
        if bar == 0 and function == "T":
            degree = 0
        if bar == len(template) - 1 and function == "T":
            degree = 0
        elif degree == last:
            degree = int(degrees[(degrees.index(degree) + 1) % len(degrees)])
        last = degree
        chords.append(build_chord(degree, mode, ninth=bool(rng.random() < 0.35)))
    return chords


def voicing(chord: Chord, tonic: int, previous: tuple[int, ...], *, centre: int = 62) -> tuple[int, ...]:
    """Four notes of the chord near ``centre`` that move least from ``previous``."""
    tones = chord.tones[1:] if len(chord.tones) > 4 else chord.tones
    classes = sorted((tonic + t) % 12 for t in tones)
    best: tuple[int, ...] = ()
    cost = np.inf
    for base in range(centre - 10, centre):
        if base % 12 not in classes:
            continue
        notes = tuple(sorted(base + (c - base) % 12 for c in classes))
        move = sum(abs(a - b) for a, b in zip(notes, previous, strict=False)) + 0.6 * abs(np.mean(notes) - centre)
        if move < cost:
            best, cost = notes, float(move)
    return best


def _snap(pitch: float, classes: set[int]) -> int:
    near = round(pitch)
    for d in (0, -1, 1, -2, 2, -3, 3, -4, 4):
        if (near + d) % 12 in classes:
            return near + d
    return near


def melody(
    rng: Rng, chords: list[Chord], style: Style, *, low: int = 62, high: int = 81
) -> list[tuple[float, float, int]]:
    """A tune over the chords: (onset in eighths, length in eighths, pitch).

    Two-bar motifs, the first taken up again a step away over the next chords; chord tones on the beat, scale steps
    between; a leap is answered by a step back; each four bars end on a long chord tone.
    """
    eighths = 2 * style.beats
    scale = {(style.tonic + s) % 12 for s in SCALES[style.mode]}
    motifs = [_MOTIFS[int(i)] for i in rng.choice(len(_MOTIFS), size=2, replace=False)]
    order = (0, 1, 0, 1) if rng.random() < 0.5 else (0, 0, 1, 0)
    contours = [rng.choice((-2, -1, -1, 1, 1, 2, 3, -3), size=16) for _ in range(2)]
    pitch = float(rng.integers(low + 4, high - 6))
    tune: list[tuple[float, float, int]] = []
    leap = 0.0
    for pair in range((len(chords) + 1) // 2):
        which = order[pair % 4]
        scaled = 2 * eighths / 16
        onsets = sorted({int(o * scaled) for o in motifs[which]})
        ends_phrase = pair % 2 == 1
        if ends_phrase:
            onsets = [o for o in onsets if o <= eighths] or [0]
        for k, onset in enumerate(onsets):
            bar = 2 * pair + onset // eighths
            if bar >= len(chords):
                break
            nxt = onsets[k + 1] if k + 1 < len(onsets) else 2 * eighths - (2 if ends_phrase else 1)
            step = float(contours[which][k % 16]) * (1.6 if rng.random() < 0.25 else 1.0)
            step = -np.sign(leap) if abs(leap) > 3.5 else step
            target = float(np.clip(pitch + step, low, high))
            on_beat = onset % 2 == 0
            tones = {(style.tonic + t) % 12 for t in chords[bar].tones[:4]}
            new = _snap(target, tones if on_beat or k == len(onsets) - 1 else scale)
            leap = new - pitch
            pitch = new
            tune.append((pair * 2 * eighths + onset, max(1.0, (nxt - onset) * 0.92), int(new)))
    return tune


@dataclass(frozen=True, slots=True)
class Clock:
    """Turns bars and eighths into seconds, with swing and each player's own small errors."""

    style: Style
    start: float
    rng: Rng

    @property
    def beat(self) -> float:
        """Length of a beat [s]."""
        return 60.0 / self.style.tempo

    @property
    def bar(self) -> float:
        """Length of a bar [s]."""
        return self.beat * self.style.beats

    def at(self, bar: float, eighth: float, *, loose: float = 1.0) -> float:
        """Time of an eighth (may be fractional) of a bar [s], never before the piece."""
        beat, rest = divmod(eighth, 2.0)
        swing = self.style.swing
        inside = rest * swing if rest <= 1.0 else swing + (rest - 1.0) * (1.0 - swing)
        error = float(self.rng.normal(0.0, self.style.humanity)) * loose
        return max(0.0, self.start + bar * self.bar + (beat + inside) * self.beat + float(np.clip(error, -0.02, 0.02)))


def _drum_bar(clock: Clock, bar: int, level: float, *, first: bool, fill: bool) -> Iterator[Note]:
    style, rng = clock.style, clock.rng
    eighths = 2 * style.beats

    def hit(voice: str, eighth: float, loud: float, pan: float, loose: float = 0.6) -> Note:
        loud = level * loud * float(np.exp(rng.normal(0.0, 0.12)))
        return Note(start=clock.at(bar, eighth, loose=loose), length=4.0, pitch=0.0, level=loud, voice=voice, pan=pan)

    body = eighths - 4 if fill and style.drums != "brushes" else eighths
    if first:
        yield hit("crash", 0, 0.55, -0.45)
    if style.drums == "swing":
        for e in range(0, body, 2):
            yield hit("ride", e, 0.55, 0.45)
            if (e // 2) % 2 == 1:
                yield hit("ride", e + 1, 0.4, 0.45)
                yield hit("foot", e, 0.4, -0.35)
        yield hit("kick", 0, 0.55, 0.0)
        if rng.random() < 0.6:
            yield hit("snare", int(rng.choice((1, 3, 5, 7))) % eighths, 0.28, 0.08)
    elif style.drums == "bossa":
        for e in range(body):
            yield hit("hat", e, 0.45 if e % 2 == 0 else 0.3, 0.4)
        for e in (0, 3, 6, 10, 13):
            if (bar % 2) * 8 <= e < (bar % 2) * 8 + body:
                yield hit("rim", e - (bar % 2) * 8, 0.5, -0.15)
        for e in (0, 3, 4, 7):
            if e < body:
                yield hit("kick", e, 0.6 if e % 4 == 0 else 0.42, 0.0)
    elif style.drums == "brushes":
        for e in range(0, body, 2):
            yield hit("brush", e, 0.5 if (e // 2) % 2 else 0.36, 0.1)
        yield hit("foot", 2, 0.3, -0.35)
        yield hit("kick", 0, 0.3, 0.0)
    else:
        busy = rng.random() < 0.5
        for e in range(body):
            yield hit("hat" if e != eighths - 1 or not busy else "open_hat", e, 0.5 if e % 2 == 0 else 0.33, 0.38)
            if busy and rng.random() < 0.2:
                yield hit("hat", e + 0.5, 0.2, 0.38)
        for e in (2, 6):
            if e < body:
                yield hit("snare", e, 0.85, 0.05, 0.5)
        if rng.random() < 0.5 and body > 6:
            yield hit("snare", 4.5, 0.14, 0.05)
        for e in (0, 4) if rng.random() < 0.5 else (0, 3, 5):
            if e < body:
                yield hit("kick", e, 0.9 if e == 0 else 0.72, 0.0, 0.4)
    if body < eighths:
        for k in range(8):
            drum = ("snare", "tom_high", "tom_high", "tom_mid", "tom_mid", "tom_low", "tom_low", "kick")[k]
            if rng.random() < 0.85:
                yield hit(drum, body + k / 2, 0.45 + 0.06 * k, 0.5 - 0.14 * k)


def _bass_bar(clock: Clock, bar: int, level: float, chord: Chord, following: Chord) -> Iterator[Note]:
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
        plan = [(2.0 * k, 1.9, p) for k, p in enumerate(line[: style.beats - 1] + [approach])]
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


_COMP_RHYTHMS = {
    "offbeats": ((1, 0.8), (3, 0.8), (5, 0.8), (7, 0.8)),
    "charleston": ((0, 2.4), (3, 2.5)),
    "halves": ((0, 3.8), (4, 3.6)),
    "whole": ((0, 7.6),),
}


def _comp_bar(clock: Clock, bar: int, level: float, notes: tuple[int, ...]) -> Iterator[Note]:
    style, rng = clock.style, clock.rng
    eighths = 2 * style.beats
    half = clock.beat / 2
    voice = style.comp_voice
    pans = {"guitar": 0.5, "piano": -0.35, "epiano": -0.3, "organ": -0.2}
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


@dataclass(frozen=True, slots=True)
class Theme:
    """Eight bars of harmony and the tune over them (onset and length in eighths, pitch)."""

    chords: list[Chord]
    tune: list[tuple[float, float, int]]


def _vary(rng: Rng, tune: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """The tune as it is played the second time: a few passing notes, a few left out."""
    out: list[tuple[float, float, int]] = []
    for onset, length, pitch in tune:
        if rng.random() < 0.07 and length < 2:
            continue
        if length >= 2 and rng.random() < 0.25:
            out.append((onset, 0.45, pitch + int(rng.choice((2, -1)))))
            out.append((onset + 0.5, length - 0.5, pitch))
        else:
            out.append((onset, length, pitch))
    return out


def form(style: Style, bars: int, *, dynamics: str) -> list[Section]:
    """Sections that fill ``bars`` bars. ``dynamics`` is ``even``, ``rising`` or ``falling``."""
    rhythm = {p for p, on in (("drums", style.drums), ("bass", style.bass), ("comp", style.comp)) if on}
    pad = {"pad"} if style.pad else set()
    lead = {"lead"} if style.lead else set()
    cycle: list[tuple[str, int, float, set[str]]] = [
        ("A", 8, 0.8, rhythm | lead),
        ("A", 8, 0.9, rhythm | lead | pad),
        ("B", 8, 1.0, rhythm | lead | pad),
        ("A", 8, 0.85, rhythm | lead),
        ("C", 8, 0.7, rhythm | pad),
        ("B", 8, 1.0, rhythm | lead | pad),
    ]
    plan: list[tuple[str, int, float, set[str]]] = (
        [("A", 4 if bars < 40 else 8, 0.6, (rhythm - {"bass"}) | pad)] if bars >= 12 else []
    )
    while sum(p[1] for p in plan) < bars:
        plan.append(cycle[(len(plan) - (bars >= 12)) % len(cycle)])
    sections, done = [], 0
    for theme, length, level, parts in plan:
        length = min(length, bars - done)
        share = done / max(bars, 1)
        if dynamics == "rising":
            level *= 0.25 + 0.75 * min(1.0, 1.6 * share)
            parts = parts - {"drums"} if share < 0.2 else parts
        elif dynamics == "falling":
            level *= 1.0 - 0.7 * share
        sections.append(Section(theme=theme, bars=length, level=level, parts=frozenset(parts)))
        done += length
    return sections


def perform(rng: Rng, style: Style, seconds: float, *, dynamics: str = "even", ring: float = 2.0) -> list[Note]:
    """Write a piece that lasts ``seconds``, its last chord left to ring; notes in order of start.

    The tempo is bent by a few percent so that whole bars fit.
    """
    usable = max(seconds - min(ring, 0.25 * seconds) - 0.05, 0.5)
    bar = style.beats * 60.0 / style.tempo
    bars = max(1, round(usable / bar))
    style = replace(
        style, tempo=float(np.clip(style.beats * 60.0 * bars / usable, style.tempo / 1.25, style.tempo * 1.25))
    )
    clock = Clock(style, 0.05, rng)
    themes = {}
    for name, templates in (("A", _OPENING), ("B", _CONTRAST), ("C", _OPENING)):
        chords = harmony(rng, style.mode, str(rng.choice(templates)))
        themes[name] = Theme(chords, melody(rng, chords, style))
    notes: list[Note] = []
    sections = form(style, bars, dynamics=dynamics)
    at, voiced = 0, (55, 59, 62, 65)
    for number, section in enumerate(sections):
        theme = themes[section.theme]
        for k in range(section.bars):
            chord = theme.chords[k % len(theme.chords)]
            following = theme.chords[(k + 1) % len(theme.chords)]
            voiced = voicing(chord, style.tonic, voiced)
            fill = k == section.bars - 1 and section.bars >= 4
            if "drums" in section.parts:
                first = k == 0 and number > 0 and section.level > 0.75
                notes.extend(_drum_bar(clock, at + k, section.level, first=first, fill=fill))
            if "bass" in section.parts:
                notes.extend(_bass_bar(clock, at + k, section.level, chord, following))
            if "comp" in section.parts:
                notes.extend(_comp_bar(clock, at + k, section.level, voiced))
            if "pad" in section.parts:
                notes.extend(_pad_bar(clock, at + k, section.level, voiced, style.pad))
        if "lead" in section.parts:
            voice = style.second_lead if style.second_lead and section.theme == "B" else style.lead
            notes.extend(_lead(clock, at, section, theme, voice, repeat=number > 1))
        at += section.bars
    notes.extend(_last_chord(clock, bars, sections[-1], style))
    last = seconds - 0.02
    return sorted((n for n in notes if n.start < last), key=lambda n: n.start)


def _pad_bar(clock: Clock, bar: int, level: float, notes: tuple[int, ...], voice: str) -> Iterator[Note]:
    for k, pitch in enumerate(notes):
        up = pitch + 12 if k >= 2 and voice == "strings" else pitch
        start = clock.at(bar, 0, loose=2.0)
        yield Note(start=start, length=clock.bar * 0.98, pitch=up, level=0.4 * level, voice=voice, pan=0.25 * (k - 1.5))


def _lead(clock: Clock, bar: int, section: Section, theme: Theme, voice: str, *, repeat: bool) -> Iterator[Note]:
    tune = _vary(clock.rng, theme.tune) if repeat else theme.tune
    eighths = 2 * clock.style.beats
    half = clock.beat / 2
    for onset, length, pitch in tune:
        b, e = divmod(onset, eighths)
        if b >= section.bars:
            break
        accent = 0.85 if e % 4 == 0 else 0.72
        loud = section.level * accent * float(np.exp(clock.rng.normal(0.0, 0.08)))
        start = clock.at(bar + int(b), e, loose=1.6)
        yield Note(start=start, length=length * half, pitch=pitch, level=loud, voice=voice, pan=0.12)


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
