"""Recordings as the program sees them: files become a ``Sound``, read block by block, audited as they pass."""

from runtrue.capture.audit import Audit, Auditor, Hum, Stretch, Tally
from runtrue.capture.files import open_sound
from runtrue.capture.places import Moment, PlaceFinder, Places
from runtrue.capture.sound import HIGHEST_RATE, LOWEST_RATE, Block, Sound, sound_from_array

__all__ = [
    "HIGHEST_RATE",
    "LOWEST_RATE",
    "Audit",
    "Auditor",
    "Block",
    "Hum",
    "Moment",
    "PlaceFinder",
    "Places",
    "Sound",
    "Stretch",
    "Tally",
    "open_sound",
    "sound_from_array",
]
