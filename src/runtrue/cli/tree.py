"""Commands out of the actions: one group per station, one command per verb, options from the request's fields."""

from dataclasses import MISSING, Field, replace
from pathlib import Path
from typing import Any

import click

import runtrue
from runtrue.errors import CancelledError
from runtrue.workflow.actions import Action, Ask, Kind, actions, asks, system_ports

_TYPES = {Kind.NUMBER: click.FLOAT, Kind.WHOLE: click.INT}

STATIONS = {
    "stamper": "Centre the metal, judge it, follow its life.",
    "compound": "Weigh, mix and judge the compound, from lot to biscuit.",
    "press": "Work out the cycle, calibrate it, ask what a change would cost.",
    "listen": "Play a record against what it should sound like.",
    "book": "Keep every closure and judgement, and ask which boxes, ages and sums.",
}
"""What each station is, for the help."""


def command_line() -> click.Group:
    """Build the whole tree; nothing heavy is imported before a command runs."""
    settings = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
    top = click.Group(
        name="runtrue",
        help="Judges records in the pressing plant: every fault gets an address on the disc.",
        context_settings=settings,
    )
    click.version_option(runtrue.__version__, prog_name="runtrue", message="%(prog)s %(version)s")(top)
    for action in actions():
        if not action.station:
            top.add_command(_command(action))
        elif action.station not in top.commands:
            top.add_command(_Station(name=action.station, help=STATIONS[action.station]))
    return top


class _Station(click.Group):
    """The verbs of one station, each built when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [action.verb for action in actions() if action.station == self.name]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        found = [a for a in actions() if a.station == self.name and a.verb == cmd_name]
        return _command(found[0]) if found else None


def _command(action: Action) -> click.Command:
    params: list[click.Parameter] = [_parameter(item, how) for item, how in asks(action.request)]
    params.append(click.Option(["--json", "as_json"], is_flag=True, help="print one JSON object instead of tables"))

    def callback(as_json: bool, **values: Any) -> int:
        return _run(action, values, as_json=as_json)

    return click.Command(
        name=action.verb,
        params=params,
        callback=callback,
        short_help=action.summary,
        help=f"{action.summary}\n\n{action.text}",
        epilog=f"\b\nExample:\n  {action.example}\n\n\b\nExit codes:\n  {_folded(action.exits)}",
    )


def _folded(exits: str) -> str:
    return "\n  ".join(exits.split(", "))


def _parameter(item: Field[Any], how: Ask) -> click.Parameter:
    if how.kind is Kind.FLAG:
        return click.Option([f"--{item.name.replace('_', '-')}", item.name], is_flag=True, help=how.help)
    kind = _TYPES.get(how.kind, click.STRING)
    required = item.default is MISSING and item.default_factory is MISSING
    if how.positional:
        names = f"{item.name.upper()}..." if how.many else item.name.upper()
        return click.Argument([item.name], type=kind, required=required, metavar=names, nargs=-1 if how.many else 1)
    words = how.help
    if how.choices is not None:
        words += f" ({', '.join(how.choices())})"
    elif how.low is not None and how.high is not None:
        words += f" ({how.range_words()})"
    return click.Option(
        [f"--{item.name.replace('_', '-')}", item.name],
        type=kind,
        required=required,
        multiple=how.many,
        metavar=_metavar(how),
        help=words,
    )


def _metavar(how: Ask) -> str:
    return {Kind.PATH: "FILE", Kind.NUMBER: "NUMBER", Kind.WHOLE: "N", Kind.WORD: "NAME", Kind.TEXT: "TEXT"}[how.kind]


def _run(action: Action, values: dict[str, Any], *, as_json: bool) -> int:
    """Fill the request, do it with progress on stderr, show the outcome, return the exit code."""
    from runtrue.cli.progress import watched
    from runtrue.cli.show import reader_may_leave, show, teller

    given = {item.name: _given(how, values[item.name]) for item, how in asks(action.request)}
    request = action.request(**{name: value for name, value in given.items() if value is not None})
    try:
        with watched() as progress:
            outcome = action.run(request, replace(system_ports(), tell=teller(as_json=as_json)), progress)
    except KeyboardInterrupt:
        raise CancelledError("stopped; nothing was kept") from None
    with reader_may_leave():
        show(outcome, as_json=as_json)
    return action.exit_code(outcome)


def _given(how: Ask, value: Any) -> Any:
    if how.many:
        return tuple(_given_one(how, one) for one in value) or None
    return _given_one(how, value)


def _given_one(how: Ask, value: Any) -> Any:
    return Path(value) if how.kind is Kind.PATH and value is not None else value
