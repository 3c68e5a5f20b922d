"""The page of what went wrong: one line, and where to go on."""

from dataclasses import dataclass

from runtrue.paper.words import sentence_case
from runtrue.workflow.pages.page import Head, head


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What was wrong, in one line."""

    head: Head
    status: int
    error: str


def trouble_of(status: int, said: str) -> Trouble:
    """The page of an error."""
    return Trouble(head=head("Not done", sentence_case(said.rstrip(".")) + "."), status=status, error=said)
