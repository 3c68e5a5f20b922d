"""What every paper asks, and how one becomes an action."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from runtrue.errors import InputError
from runtrue.workflow.actions import Action, Kind, Role, ask

if TYPE_CHECKING:
    from runtrue.contract.book import Entered
    from runtrue.contract.listening import VerdictWord


@dataclass(frozen=True, slots=True, kw_only=True)
class BookRequest:
    """Something asked of the book."""

    book: str | None = ask(
        Kind.TEXT,
        "path or URL of the book; the one of RUNTRUE_BOOK, else the one in your data folder, if not given",
        default=None,
        common=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperRequest(BookRequest):
    """Something to be written in the book."""

    who: str | None = ask(Kind.TEXT, "who answers for it; your account's name if not given", default=None, common=True)
    at: str | None = ask(
        Kind.TEXT,
        "when it happened, ISO 8601, in local time unless a zone is given; now if not given",
        default=None,
        common=True,
    )
    reason: str | None = ask(Kind.TEXT, "why it is written, or why corrected", default=None, common=True)
    replaces: str | None = ask(Kind.TEXT, "number or id of the entry that this one corrects", default=None, common=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a paper came to: a sentence, a verdict where it gives one, and what to look at."""

    said: str
    verdict: "VerdictWord | None" = None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A paper of the plant. ``function`` takes (request, pen, entry), by its dotted name, and gives a ``Told``."""

    verb: str
    summary: str
    text: str
    request: type
    function: str
    role: Role
    example: str
    judges: bool = False

    @property
    def action(self) -> Action:
        """The action that fills it in."""
        exits = "0 pass, 3 fail, 4 cannot judge" if self.judges else "0 entered"
        return Action(
            station="book",
            verb=self.verb,
            summary=self.summary,
            text=self.text,
            request=self.request,
            result="runtrue.contract.book:Entered",
            function="runtrue.workflow.papers.entering:enter",
            exit_code=_by_verdict,
            exits=f"{exits}, 2 argument not usable, 5 book locked, disk or rights",
            example=self.example,
            role=self.role,
            writes=True,
            long=False,
        )


def _by_verdict(outcome: "Entered") -> int:
    return {None: 0, "pass": 0, "fail": 3, "cannot_judge": 4}[outcome.verdict]


def moment(what: str, text: str) -> datetime:
    """A moment in UTC from ISO 8601; raises ``InputError``."""
    try:
        found = datetime.fromisoformat(text.strip())
        return found.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise InputError(
            f"{what} '{text[:40]}' is no time; write it as 2026-11-25T08:30 or 2026-11-25T08:30Z"
        ) from None


def day(what: str, text: str | None) -> str | None:
    """A date, ISO 8601; raises ``InputError``."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text.strip()).date().isoformat()
    except ValueError:
        raise InputError(f"{what} '{text[:40]}' is no date; write it as 2026-11-25") from None


def values_of(asked: Any, *names: str) -> dict[str, Any]:
    """The named fields of a request, texts without blanks at their ends, empty ones as None."""
    found: dict[str, Any] = {}
    for name in names:
        value = getattr(asked, name)
        found[name] = (value.strip() or None) if isinstance(value, str) else value
    return found


Checks = Callable[[], list[str]]


def one_of(*words: str) -> Checks:
    """Words to choose from, for ``ask``."""
    return lambda: list(words)
