"""Pictures (PNG, TIFF, JPEG) into grey arrays, with their size read before their content."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from runtrue.errors import InputError, MissingFileError, SurroundingsError

MOST_PIXELS = 500_000_000
"""Largest picture [px]; a 12 in record at 1600 dpi is 370 million. A larger one is a bomb or a mistake."""
KINDS = ("PNG", "TIFF", "JPEG")
_FOCAL_LENGTH = ExifTags.Base.FocalLength


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A grey picture (rows, columns), 8 or 16 bit, its file's SHA-256, and whether a camera's lens is written in it."""

    picture: NDArray[np.uint8] | NDArray[np.uint16]
    digest: str
    camera: bool


def load_picture(path: Path) -> Loaded:
    """Read a picture; raises ``InputError`` before anything large is unpacked."""
    where = f"image {path}"
    if not path.exists():
        raise MissingFileError(f"{where}: there is no such file: check the spelling and the folder")
    if not path.is_file():
        raise MissingFileError(f"{where}: is a folder; give the path of the file itself")
    try:
        with _our_limit(), Image.open(path, formats=KINDS) as image:
            wide, high = image.size
            if wide * high > MOST_PIXELS:
                raise InputError(
                    f"{where}: {wide} x {high} pixels; at most {MOST_PIXELS // 1_000_000} million are allowed: scan "
                    "the middle, or coarser"
                )
            camera = _FOCAL_LENGTH in image.getexif().get_ifd(ExifTags.IFD.Exif)
            picture = _grey(image, where)
    except UnidentifiedImageError:
        raise InputError(f"{where}: is no PNG, TIFF or JPEG picture; save it as one of them") from None
    except PermissionError as error:
        raise SurroundingsError(f"{where}: cannot be read ({error.strerror}); check the permissions") from None
    except (OSError, SyntaxError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{where}: the picture is damaged ({error}); scan or copy it again") from None
    digest = sha256()
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            digest.update(block)
    return Loaded(picture=picture, digest=digest.hexdigest(), camera=camera)


def _grey(image: Image.Image, where: str) -> NDArray[np.uint8] | NDArray[np.uint16]:
    if image.mode.startswith("I;16"):
        return np.asarray(image).astype(np.uint16, copy=False)
    if image.mode == "I":
        whole = np.asarray(image)
        if whole.min() < 0 or whole.max() > 65_535:
            raise InputError(f"{where}: is deeper than 16 bit; save it with 8 or 16 bit")
        return whole.astype(np.uint16)
    if image.mode == "F":
        raise InputError(f"{where}: holds floating numbers; save it with 8 or 16 bit")
    return np.asarray(image if image.mode == "L" else image.convert("L"))


@contextmanager
def _our_limit() -> Iterator[None]:
    """Our own limit in place of the reader's, whose message would not say what to do."""
    before = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = None
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = before
