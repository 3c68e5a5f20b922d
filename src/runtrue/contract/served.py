"""The object ``runtrue/served-1``: where pages were served."""

from dataclasses import dataclass, field
from typing import Literal

from runtrue.contract.listening import NotJudged

SERVED_SCHEMA: Literal["runtrue/served-1"] = "runtrue/served-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Pages that were served until they were stopped."""

    schema: Literal["runtrue/served-1"] = SERVED_SCHEMA
    said: str
    address: str
    book: str
    not_judged: list[NotJudged] = field(default_factory=list)
    version: str
