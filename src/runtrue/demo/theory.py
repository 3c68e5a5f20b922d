"""Rules of harmony and melody, and a seeded generator that follows them.

Pitches are note numbers, 69 = 440 Hz, 12 to the octave; chords are in semitones above the tonic.
"""

from dataclasses import dataclass

import numpy as np

from runtrue.demo.synthesis import Rng

MAJOR = (0, 2, 4, 5, 7, 9, 11)
DORIAN = (0, 2, 3, 5, 7, 9, 10)
MINOR = (0, 2, 3, 5, 7, 8, 10)
SCALES = {"major": MAJOR, "dorian": DORIAN, "minor": MINOR}

# What a scale degree does: rest (T), leave (S), pull home (D); weights are how often it is taken.
_DEGREES = {"T": ((0, 5, 2), (0.5, 0.35, 0.15)), "S": ((3, 1, 5), (0.5, 0.4, 0.1)), "D": ((4, 4, 6), (0.5, 0.3, 0.2))}
OPENING = ("TTSDTSDT", "TSTDTSDT", "TTTSSSDT", "TSDTSSDT")
CONTRAST = ("STSDSTSD", "SDTTSDTD", "SSTTSSDD")

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
class Chord:
    """A chord: ``root`` and ``tones`` in semitones above the tonic, ``tones`` rising from the root."""

    root: int
    tones: tuple[int, ...]


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
        degrees: tuple[int, ...] = _DEGREES[function][0]
        weights = _DEGREES[function][1]
        if mode == "dorian":  # its sixth degree is diminished: the third takes its place
            degrees = tuple(2 if d == 5 else d for d in degrees)
        degree = int(rng.choice(degrees, p=weights))
        if function == "T" and bar in {0, len(template) - 1}:
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


def _nearest(ladder: list[int], place: int, classes: set[int], avoid: int | None) -> int:
    """Index of the ladder step near ``place`` whose pitch class is wanted and that is not ``avoid``."""
    for d in (0, -1, 1, -2, 2, -3, 3):
        k = place + d
        if 0 <= k < len(ladder) and ladder[k] % 12 in classes and k != avoid:
            return k
    return int(np.clip(place, 0, len(ladder) - 1))


def _shape(rng: Rng, notes: int) -> list[int]:
    """Steps of the scale from note to note: up first, down later, each leap answered by a step back."""
    steps: list[int] = []
    for k in range(notes):
        rising = rng.random() < (0.68 if k < notes / 2 else 0.32)
        size = int(rng.choice((1, 2, 3, 4), p=(0.68, 0.2, 0.07, 0.05)))
        if steps and abs(steps[-1]) > 2:
            rising, size = steps[-1] < 0, 1
        steps.append(size if rising else -size)
    return steps


def melody(
    rng: Rng, chords: list[Chord], *, tonic: int, mode: str, beats: int, lift: int = 0
) -> list[tuple[float, float, int]]:
    """A tune over the chords: (onset in eighths, length in eighths, pitch).

    Two-bar motifs, the first taken up again a step away over the next chords; chord tones on the beat, scale steps
    between; a note is not struck three times; each four bars end on a long chord tone. ``lift`` [scale steps] raises
    the whole tune above its usual place about an octave over the middle.
    """
    eighths = 2 * beats
    scale = {(tonic + s) % 12 for s in SCALES[mode]}
    ladder = [p for p in range(58, 85) if p % 12 in scale]
    motifs = [_MOTIFS[int(i)] for i in rng.choice(len(_MOTIFS), size=2, replace=False)]
    order = (0, 1, 0, 1) if rng.random() < 0.5 else (0, 0, 1, 0)
    shapes = [_shape(rng, len(m)) for m in motifs]
    home = len(ladder) // 2 - 1 + lift
    starts = (0, int(rng.choice((1, -1, 2))), int(rng.choice((2, 3))), 0)
    tune: list[tuple[float, float, int]] = []
    last, before = -1, -2
    for pair in range((len(chords) + 1) // 2):
        which = order[pair % 4]
        onsets = sorted({int(o * eighths / 8) for o in motifs[which]})
        closes = pair % 2 == 1
        if closes:
            onsets = [o for o in onsets if o <= eighths] or [0]
        place = home + starts[pair % 4]
        for k, onset in enumerate(onsets):
            bar = 2 * pair + onset // eighths
            if bar >= len(chords):
                break
            end = onsets[k + 1] if k + 1 < len(onsets) else 2 * eighths - (2 if closes else 1)
            tones = {(tonic + t) % 12 for t in chords[bar].tones[:3]}
            sharp = tones - scale  # the leading note of minor stands in for the seventh step
            strong = onset % 4 == 0 or k == len(onsets) - 1 or end - onset >= 3
            place += shapes[which][k] if k else 0
            if last >= 0:  # no leap of more than a sixth, whatever the plan wants
                place = int(np.clip(place, last - 5, last + 5))
            place = int(np.clip(place, 1, len(ladder) - 2))
            if strong:
                classes = tones | {(c - 1) % 12 for c in sharp}
                if bar == len(chords) - 1 and k == len(onsets) - 1:
                    classes = {(tonic + chords[bar].root) % 12}
                place = _nearest(ladder, place, classes, last if last == before else None)
            elif place == last == before:
                place += 1 if place < home else -1
            last, before = place, last
            pitch = ladder[place] + (1 if (ladder[place] + 1) % 12 in sharp else 0)
            tune.append((pair * 2 * eighths + onset, max(0.9, (end - onset) * 0.92), pitch))
    return tune


@dataclass(frozen=True, slots=True)
class Theme:
    """Eight bars of harmony and the tune over them (onset and length in eighths, pitch)."""

    chords: list[Chord]
    tune: list[tuple[float, float, int]]


def vary(rng: Rng, tune: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
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
