"""What each character is: a recipe of notes, textures, room and master."""

from collections.abc import Callable
from dataclasses import replace

from runtrue.demo import textures
from runtrue.demo.mixer import Master, Plan, Room
from runtrue.demo.perform import fit_tempo, perform
from runtrue.demo.score import Note, Style
from runtrue.demo.synthesis import Rng
from runtrue.demo.theory import harmony, voicing

_DRUMS = ("backbeat", "swing", "bossa", "backbeat")
_LEADS = ("reed", "flute", "brass", "voice", "guitar", "piano")
_COMPS = ("epiano", "guitar", "piano", "organ")


def random_style(rng: Rng) -> Style:
    """A band's way of playing, drawn so that its parts go together."""
    drums = str(rng.choice(_DRUMS))
    mode = str(rng.choice(("major", "dorian", "minor")))
    tempo = {"swing": rng.uniform(116, 168), "bossa": rng.uniform(112, 138), "backbeat": rng.uniform(84, 122)}[drums]
    comp_voice = str(rng.choice(_COMPS, p=(0.35, 0.3, 0.25, 0.1)))
    leads = rng.choice([v for v in _LEADS if v != comp_voice], size=2, replace=False)
    comp = {
        "swing": "charleston",
        "bossa": "charleston",
        "backbeat": str(rng.choice(("offbeats", "arpeggio", "halves"))),
    }
    return Style(
        tempo=float(tempo),
        swing={"swing": 0.64, "bossa": 0.5, "backbeat": float(rng.choice((0.5, 0.56)))}[drums],
        tonic=int(rng.integers(45, 56)),
        mode=mode,
        drums=drums,
        bass="walking" if drums == "swing" else "syncopated",
        comp=comp[drums],
        comp_voice=comp_voice,
        lead=str(leads[0]),
        second_lead=str(leads[1]),
        pad="strings" if rng.random() < 0.6 else "",
    )


def _band(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    return Plan(notes=perform(rng, random_style(rng), seconds), master=Master(gain=0.95))


def _sibilants(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = replace(random_style(rng), lead="voice", second_lead="voice", pad="")
    notes = []
    for note in perform(rng, style, seconds):
        if note.voice != "voice":
            notes.append(replace(note, level=0.55 * note.level))
            continue
        notes.append(replace(note, pan=0.0, level=1.25 * note.level))
        if rng.random() < 0.75:
            length = float(rng.uniform(0.08, 0.17))
            centre = float(rng.choice((6200.0, 7200.0, 4200.0), p=(0.45, 0.4, 0.15)) * rng.uniform(0.92, 1.08))
            start = max(0.0, note.start - 0.7 * length)
            notes.append(Note(start=start, length=length, pitch=centre, level=0.9 * note.level + 0.35, voice="s"))
    return Plan(notes=sorted(notes, key=lambda n: n.start), master=Master(gain=1.05), room=Room(seconds=0.9, wet=0.15))


def _brushes(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = Style(
        tempo=float(rng.uniform(62, 84)), swing=0.64, tonic=int(rng.integers(46, 54)), mode="dorian", drums="brushes",
        bass="roots", comp="whole", comp_voice="piano", lead="", pad="",
    )  # fmt: skip
    style = fit_tempo(style, seconds)
    notes = [replace(n, level=0.45 * n.level) for n in perform(rng, style, seconds)]
    return Plan(
        notes=notes,
        textures=(textures.brushwork(rate, seed, tempo=style.tempo, level=0.045),),
        master=Master(gain=0.8),
        room=Room(seconds=0.7, wet=0.15),
    )


def _ballad(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = Style(
        tempo=float(rng.uniform(66, 84)), beats=3, swing=0.62, tonic=int(rng.integers(46, 54)),
        mode=str(rng.choice(("major", "dorian"))), drums="brushes", bass="roots", comp="arpeggio", comp_voice="guitar",
        lead="flute", second_lead="reed", pad="strings", humanity=0.009,
    )  # fmt: skip
    style = fit_tempo(style, seconds)
    notes = perform(rng, style, seconds)
    wires = textures.brushwork(rate, seed, tempo=style.tempo, level=0.012)
    return Plan(notes=notes, textures=(wires,), master=Master(gain=0.55), room=Room(seconds=1.5, wet=0.28))


def _rising(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = replace(
        random_style(rng), drums="backbeat", comp="arpeggio", comp_voice="piano", lead="reed", pad="strings"
    )
    style = replace(style, tempo=float(rng.uniform(88, 104)), swing=0.5, bass="syncopated", second_lead="brass")
    return Plan(notes=perform(rng, style, seconds, dynamics="rising"), master=Master(gain=1.0))


def _drums_first(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = replace(random_style(rng), lead="brass", second_lead="reed", pad="")
    return Plan(notes=perform(rng, style, seconds, dynamics="drums_first"), master=Master(gain=0.95))


def _applause(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    return Plan(notes=[], textures=(textures.crowd(rate, seed, level=0.75),), room=Room(seconds=1.6, wet=0.5))


def _tonal(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = Style(
        tempo=float(rng.uniform(46, 58)), tonic=int(rng.integers(46, 54)), mode=str(rng.choice(("major", "minor"))),
        drums="", bass="", comp="whole", comp_voice="organ", lead="", pad="strings", humanity=0.015,
    )  # fmt: skip
    notes = [
        replace(n, length=n.length + 0.25, pan=0.0 if n.voice == "organ" else n.pan)
        for n in perform(rng, style, seconds)
    ]
    low = [replace(n, pitch=n.pitch - 24, level=0.8 * n.level, pan=0.0) for n in notes[::4] if n.voice == "organ"]
    both = sorted(notes + low, key=lambda n: n.start)
    return Plan(notes=both, master=Master(gain=1.3), room=Room(seconds=2.2, wet=0.35))


def _quiet(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    voice = str(rng.choice(("guitar", "piano")))
    mode = str(rng.choice(("major", "dorian", "minor")))
    tonic = int(rng.integers(48, 56))
    notes: list[Note] = []
    at = 0.3
    while at < seconds - 1.0:
        chords = harmony(rng, mode, "TSDT")
        voiced: tuple[int, ...] = (55, 59, 62, 65)
        step = float(rng.uniform(0.34, 0.55))
        for chord in chords[: int(rng.integers(2, 5))]:
            voiced = voicing(chord, tonic, voiced)
            order = [voiced[0] - 12, *voiced, voiced[2]]
            for pitch in order[: int(rng.integers(3, 7))]:
                if at < seconds - 0.8:
                    loud = float(rng.uniform(0.45, 1.0))
                    notes.append(
                        Note(start=at, length=step * 2.6, pitch=pitch, level=loud, voice=voice, pan=0.03 * (pitch - 60))
                    )
                at += step * float(rng.uniform(0.92, 1.1))
        at += float(rng.uniform(2.2, 4.5))
    return Plan(notes=notes, master=Master(gain=0.1), room=Room(seconds=0.8, wet=0.15))


def _noise(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    return Plan(notes=[], textures=(textures.storm(rate, seed, level=0.13),), room=Room(seconds=1.0, wet=0.2))


def _bass(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = replace(random_style(rng), drums="", comp="", lead="", second_lead="", pad="", bass="syncopated", beats=4)
    notes = [replace(n, voice="pure_bass", pan=0.0) for n in perform(rng, style, seconds) if n.pitch > 0]
    return Plan(notes=notes, master=Master(gain=1.2), room=Room(wet=0.0))


def _percussive(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    style = replace(random_style(rng), comp="", bass="", lead="", second_lead="", pad="")
    return Plan(notes=perform(rng, style, seconds), master=Master(gain=1.1), room=Room(seconds=0.8, wet=0.2))


def _fade(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    plan = _band(rng, seconds, seed, rate)
    return replace(plan, master=replace(plan.master, fade=(0.45 * seconds, seconds - min(1.0, 0.1 * seconds))))


def _hard_clipped(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    plan = _band(rng, seconds, seed, rate)
    return replace(plan, master=Master(gain=4.0, hard=True))


def _mono(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    plan = _band(rng, seconds, seed, rate)
    return replace(plan, master=replace(plan.master, mono=True))


def _steady_tone(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    low = 220.0 * 2.0 ** (int(rng.integers(0, 12)) / 12.0)
    sines = textures.chord_of_sines(rate, (low, low * 1.25, low * 1.5), level=0.6)
    return Plan(notes=[], textures=(sines,), room=Room(wet=0.0), close=0.0)


def _speech(rng: Rng, seconds: float, seed: int, rate: int) -> Plan:
    notes: list[Note] = []
    base = float(rng.uniform(44, 52))
    at = 0.25
    while at < seconds - 0.3:
        syllables = int(rng.integers(6, 16))
        for k in range(syllables):
            if at > seconds - 0.3:
                break
            pitch = base + 4.0 * (1.0 - k / syllables) + float(rng.normal(0.0, 1.1))
            length = float(rng.uniform(0.09, 0.22)) * (1.5 if k == syllables - 1 else 1.0)
            if rng.random() < 0.45:
                hiss = float(rng.uniform(0.05, 0.12))
                centre = float(rng.choice((6500.0, 4300.0, 3200.0)))
                loud = float(rng.uniform(0.3, 0.7))
                notes.append(Note(start=at, length=hiss, pitch=centre, level=loud, voice="s"))
                at += 0.8 * hiss
            loud = float(rng.uniform(0.6, 1.0))
            notes.append(Note(start=at, length=length, pitch=pitch, level=loud, voice="talk"))
            at += length + (0.05 if rng.random() < 0.3 else 0.0)
        at += float(rng.uniform(0.35, 0.9))
    notes.sort(key=lambda n: n.start)
    return Plan(
        notes=notes, textures=(textures.air(rate, seed, level=0.0006),), master=Master(gain=0.85),
        room=Room(seconds=0.35, wet=0.12), levels={"talk": 0.24, "s": 0.12},
    )  # fmt: skip


PLANS: dict[str, Callable[[Rng, float, int, int], Plan]] = {
    "band": _band, "sibilants": _sibilants, "brushes": _brushes, "applause": _applause, "tonal": _tonal,
    "quiet": _quiet, "noise": _noise, "bass": _bass, "percussive": _percussive, "fade": _fade,
    "ballad": _ballad, "rising": _rising, "drums_first": _drums_first,
    "hard_clipped": _hard_clipped, "steady_tone": _steady_tone, "mono": _mono, "speech": _speech,
}  # fmt: skip
"""How to plan a piece of each character: called with generator, seconds, seed and rate."""
