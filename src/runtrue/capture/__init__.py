"""Recordings as the program sees them: files become a ``Sound``, read block by block."""

from runtrue.capture.files import open_sound
from runtrue.capture.sound import HIGHEST_RATE, LOWEST_RATE, Block, Sound, sound_from_array

__all__ = ["HIGHEST_RATE", "LOWEST_RATE", "Block", "Sound", "open_sound", "sound_from_array"]
