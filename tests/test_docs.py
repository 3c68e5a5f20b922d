"""Generated pages are fresh, and the glossary holds the program to its words."""

import re
from pathlib import Path

import pytest

from runtrue.contract.listening import Listening
from runtrue.contract.schema import schema_of
from runtrue.quantities import QUANTITIES, quantity, quantity_by_key
from tools.docs import pages

ROOT = Path(__file__).parents[1]
PAGES = pages()


@pytest.mark.parametrize("path", list(PAGES), ids=lambda p: p.name)
def test_a_generated_page_is_fresh(path: Path) -> None:
    assert path.exists(), "missing: run make docs"
    assert path.read_text(encoding="utf-8") == PAGES[path], "stale: run make docs"


def test_every_key_of_a_measured_number_ends_in_its_unit() -> None:
    for known in QUANTITIES.values():
        assert known.suffix == "" or known.key.endswith(f"_{known.suffix}")
        assert quantity(known.id) is quantity_by_key(known.key)
        assert known.definition
        assert known.words


@pytest.mark.parametrize("shown", [0.0, 1.0, -3.25, 200.0])
@pytest.mark.parametrize("known", list(QUANTITIES.values()), ids=lambda q: q.id)
def test_to_si_and_back(known: object, shown: float) -> None:
    assert isinstance(known, type(quantity("surface")))
    assert known.to_shown(known.to_si(shown)) == pytest.approx(shown)


def test_numbers_in_the_printed_result_carry_a_unit() -> None:
    """Every number's key ends in a unit; the exceptions are counts, ids and probabilities."""
    units = {"s", "um", "mm", "deg", "percent", "db", "db_a", "db_468", "hz", "ms"}
    plain = {
        "placings", "turn", "turns", "id", "count", "train", "polarity", "channels", "rpm", "conformance_probability",
        "audible_probability", "value", "u95", "lower", "upper",
    }  # fmt: skip
    schema = schema_of("runtrue/listening-1")
    for name, part in {"": schema, **schema["$defs"]}.items():
        for key, value in part["properties"].items():
            if key in plain or not re.search(r'"(number|integer)"', str(value).replace("'", '"')):
                continue
            assert any(key.endswith(f"_{unit}") or key == unit for unit in units), f"{name}.{key}"
    assert Listening.__name__ == schema["title"]


def test_links_in_the_documentation_lead_somewhere() -> None:
    for page in (*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")):
        for target in re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_rig_file_of_the_guide_loads(tmp_path: Path) -> None:
    from runtrue.workflow.rig import load_rig

    page = (ROOT / "docs" / "how-to" / "describe-a-bench.md").read_text(encoding="utf-8")
    path = tmp_path / "rig.toml"
    path.write_text(page.partition("```toml\n")[2].partition("```")[0], encoding="utf-8")
    assert load_rig(path).name == "Bench 2"


def test_commands_of_the_pages_are_commands() -> None:
    """Every command line that a page shows parses: its options are those of the action."""
    import shlex

    from runtrue.workflow.actions import actions, asks

    known = {f"runtrue {action.name}": action for action in actions()}
    shown = 0
    for page in (ROOT / "README.md", *(ROOT / "docs").rglob("*.md")):
        for line in re.findall(r"^runtrue [a-z].*$", page.read_text(encoding="utf-8"), re.MULTILINE):
            name = next((name for name in known if line.startswith(name)), None)
            assert name is not None, f"{page.name}: {line}"
            options = {f"--{item.name.replace('_', '-')}" for item, how in asks(known[name].request)} | {"--json"}
            words = shlex.split(line.replace("[", "").replace("]", ""))
            assert {word for word in words if word.startswith("--")} <= options, f"{page.name}: {line}"
            shown += 1
    assert shown >= 4
