"""TOML files of the house (limits, rigs) into strict models; every mistake becomes one line that says where it is."""

import tomllib
from datetime import date
from os import fspath
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from runtrue.errors import InputError, MissingFileError, SurroundingsError


class Strict(BaseModel):
    """A table of a file: no unknown keys, no numbers written as text, no NaN."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


def _day(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


Day = Annotated[str, BeforeValidator(_day)]
"""A date as TOML writes it, or words such as "1987"."""

_Model = TypeVar("_Model", bound=Strict)


def load_toml(path: Path, model: type[_Model], what: str) -> _Model:
    """Read a TOML file into ``model``; ``what`` begins every message ("limits file")."""
    return parse_toml(read_text(path, f"{what} {fspath(path)}"), model, f"{what} {fspath(path)}")


def parse_toml(text: str, model: type[_Model], where: str) -> _Model:
    """Read TOML text into ``model``; ``where`` begins every message."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: is no TOML ({error}); correct that line") from None
    try:
        return model.model_validate(content)
    except ValidationError as error:
        raise InputError(f"{where}: {_first(error, model)}") from None


def toml_string(text: str) -> str:
    r"""A text as a basic string of TOML.

    Examples
    --------
    >>> toml_string('the "old" one')
    '"the \\u0022old\\u0022 one"'
    """
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or c in '"\\\x7f' else c for c in text) + '"'


def read_text(path: Path, where: str) -> str:
    """Text of a file; ``where`` begins every message."""
    try:
        return path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        raise MissingFileError(f"{where}: there is no such file: check the spelling and the folder") from None
    except IsADirectoryError:
        raise MissingFileError(f"{where}: is a folder; give the path of the file itself") from None
    except UnicodeDecodeError:
        raise InputError(f"{where}: is no text in UTF-8; save it as such") from None
    except ValueError:  # a NUL in the path
        raise MissingFileError(f"{where}: there is no such file: check the spelling") from None
    except OSError as error:
        raise SurroundingsError(f"{where}: cannot be read ({error.strerror}); check the permissions") from None


def _first(error: ValidationError, model: type[BaseModel]) -> str:
    """Say the first mistake in words: place, what is allowed, what to do."""
    mistakes = error.errors(include_url=False)
    # an unknown key is usually a misspelt one: say it before the missing key that follows from it
    mistake = next((m for m in mistakes if m["type"] == "extra_forbidden"), mistakes[0])
    *parents, key = mistake["loc"]
    place = _place(parents)
    if mistake["type"] == "extra_forbidden":
        return f"{place}key '{key}' is unknown; allowed are {', '.join(_keys(model, parents))}: correct or remove it"
    if mistake["type"] == "missing":
        return f"{place}key '{key}' is missing: add it"
    given = mistake.get("input")
    shown = f", got {given!r}" if isinstance(given, str | int | float | bool) else ""
    words = mistake["msg"].removeprefix("Value error, ")
    return f"{place}key '{key}': {words[:1].lower()}{words[1:]}{shown}: correct it"


def _place(parents: list[int | str]) -> str:
    words = [f"number {part + 1}" if isinstance(part, int) else f"[{part}]" for part in parents]
    return f"{' '.join(words)}: " if words else ""


def _keys(model: type[BaseModel], parents: list[int | str]) -> list[str]:
    """Names allowed in the table at ``parents``."""
    for part in parents:
        if isinstance(part, str):
            model = _inner(model, part)
    return [field.alias or name for name, field in model.model_fields.items()]


def _inner(model: type[BaseModel], key: str) -> type[BaseModel]:
    """Model of the table under ``key``, through optional and list."""
    for name, field in model.model_fields.items():
        if key in (name, field.alias):
            found: Any = field.annotation
            while not (isinstance(found, type) and issubclass(found, BaseModel)):
                found = next(a for a in found.__args__ if a is not type(None) and a is not Ellipsis)
            return found
    raise AssertionError(f"{model.__name__} has no key {key}")
