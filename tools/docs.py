"""Write the generated pages of ``docs/``: ``python -m tools.docs``. A test fails when one of them is stale."""

import json
from dataclasses import MISSING
from pathlib import Path

from runtrue.contract.schema import RESULTS, file_name, schema_of
from runtrue.quantities import QUANTITIES
from runtrue.workflow.actions import Action, Ask, actions, asks
from runtrue.workflow.papers.catalogue import PAPERS
from runtrue.workflow.papers.importing import columns_of

ROOT = Path(__file__).parents[1] / "docs"
_NOTE = "<!-- written by make docs; do not edit -->"


def pages() -> dict[Path, str]:
    """Every generated page with its text."""
    found = {
        ROOT / "reference" / "commands.md": commands(),
        ROOT / "reference" / "papers.md": papers(),
        ROOT / "glossary.md": glossary(),
    }
    for name in RESULTS:
        text = json.dumps(schema_of(name), indent=1, ensure_ascii=False) + "\n"
        found[ROOT / "schema" / file_name(name)] = text
    return found


def commands() -> str:
    """Reference page of all commands."""
    parts = [
        _NOTE,
        "# Commands",
        "Data goes to stdout, notices and progress to stderr. `--json` prints one object, whose shape stands in "
        "[schema](../schema/). Where something is not usable, stdout stays empty and stderr says in one line what, "
        "where, what is allowed and what to do.",
    ]
    parts += [_command(action) for action in actions()]
    return "\n\n".join(parts) + "\n"


def papers() -> str:
    """Page of the columns of every paper's CSV, as `runtrue book columns` gives them."""
    head = [
        _NOTE,
        "# Papers as tables",
        "Each paper of the book can be filled in by `runtrue book PAPER`, or by the rows of a CSV in UTF-8: "
        "`runtrue book import PAPER FILE`. The first line names the columns, in any order; those in bold are needed, "
        "the others may be left out or empty. `runtrue book columns PAPER` says what may stand below them.",
    ]
    parts = []
    for form in PAPERS:
        names = [f"**{item.name}**" if item.default is MISSING else item.name for item, _ in columns_of(form)]
        parts.append(f"## {form.verb}\n\n{form.summary} {form.text}\n\n{', '.join(names)}")
    return "\n\n".join([*head, *parts]) + "\n"


def _command(action: Action) -> str:
    rows = [(item, how) for item, how in asks(action.request)]
    arguments = " ".join(item.name.upper() for item, how in rows if how.positional)
    lines = [f"| {_option(item.name, how)} | {_value(how)} | {_default(item)} | {how.help} |" for item, how in rows]
    table = "\n".join(["| option | value | | |", "| --- | --- | --- | --- |", *lines])
    writes = "It writes files." if action.writes else "It writes nothing."
    return "\n\n".join(
        [
            f"## runtrue {action.name}",
            f"{action.summary} {action.text}",
            f"```\nruntrue {action.name} {arguments} [options] [--json]\n```",
            table,
            f"Exit codes: {action.exits}. {writes}",
            f"Example:\n\n```\n{action.example}\n```",
        ]
    )


def _option(name: str, how: Ask) -> str:
    return f"`{name.upper()}`" if how.positional else f"`--{name.replace('_', '-')}`"


def _value(how: Ask) -> str:
    if how.choices is not None:
        return ", ".join(how.choices())
    return how.range_words() if how.unit or how.low is not None else how.kind.value


def _default(item: object) -> str:
    default = getattr(item, "default", MISSING)
    return "needed" if default is MISSING else ""


def glossary() -> str:
    """Page of all quantities."""
    head = [
        _NOTE,
        "# Quantities",
        "One table of everything that is measured. The key names a quantity wherever a number crosses an edge: in "
        "limits files, JSON and CSV. Inside the program everything is SI.",
        "| words | key | shown in | inside | what it is |\n| --- | --- | --- | --- | --- |",
    ]
    rows = [
        f"| {q.words} | `{q.key}` | {q.shown_unit or 'a count'} | {q.si_unit} | {q.definition} |"
        for q in QUANTITIES.values()
    ]
    return "\n\n".join(head) + "\n" + "\n".join(rows) + "\n"


def main() -> None:
    """Write what changed."""
    for path, text in pages().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            print(f"wrote {path.relative_to(ROOT.parent)}")


if __name__ == "__main__":
    main()
