"""A result of `listen check --json` read back."""

from json import loads
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from runtrue.contract.listening import SCHEMA, Listening
from runtrue.errors import InputError
from runtrue.workflow.toml_file import read_text


def load_listening(path: Path) -> Listening:
    """Read it; raises ``InputError`` for a file that is none."""
    where = f"result {path}"
    try:
        content = loads(read_text(path, where))
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{where}: is no JSON ({error}); give what --json printed") from None
    kind = content.get("schema") if isinstance(content, dict) else None
    if kind != SCHEMA:
        raise InputError(f"{where}: holds '{kind}', not {SCHEMA}; give what `listen check --json` printed")
    try:
        return TypeAdapter(Listening).validate_python(content)
    except ValidationError as error:
        place = ".".join(str(part) for part in error.errors()[0]["loc"])
        raise InputError(f"{where}: {place} is not as in {SCHEMA}; give what this version printed") from None
