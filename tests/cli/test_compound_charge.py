"""The commands ``compound charge`` and ``compound weigh``: results, sheet, standard input, bad input."""

import io
import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import numpy as np
import pypdfium2
import pytest
import zxingcpp

from runtrue.contract.schema import schema_of
from runtrue.formulas import shipped, text
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
pytestmark = pytest.mark.usefixtures("folder")
CHARGE = ("compound", "charge")
WEIGH = ("compound", "weigh", "charge.json")


def whole(outcome: Outcome, code: int, schema: str) -> dict:
    """The JSON, held to its schema, every null with its reason."""
    assert outcome.code == code, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of(schema))
    reasons = {item["key"] for item in result["not_judged"]}
    assert all(item["reason"] for item in result["not_judged"])
    reasons = {key for key in reasons if not key.startswith("findings.")}
    assert set(nulls({k: v for k, v in result.items() if k not in ("settings", "input", "findings")})) == reasons
    assert result["safety"][-1].startswith("Local codes")
    return result


def nulls(value: object, key: str = "") -> list[str]:
    if value is None:
        return [key]
    if isinstance(value, list):
        return [k for one in value for k in nulls(one, key)]
    if isinstance(value, dict):
        return [k for name, one in value.items() for k in nulls(one, f"{key}.{name}" if key else name)]
    return []


@pytest.mark.parametrize("name", shipped())
def test_every_shipped_formula_charges(runtrue: Run, name: str) -> None:
    result = whole(runtrue(*CHARGE, name, "--batch-kg", "100", "--json"), 0, "runtrue/charge-1")
    assert sum(line["need_kg"] for line in result["lines"]) == pytest.approx(
        100.6 if name == "history-vinyl-1976" else 100.0, abs=1e-4
    )
    note = text(name).splitlines()[0]
    assert "not a recommendation" in note


def test_charge_with_biscuits_and_mixer(runtrue: Run) -> None:
    arguments = (*CHARGE, "invented-78-kiln-black", "--format", "10in-78", "--disc-g", "177", "--flash-percent", "12")
    result = whole(runtrue(*arguments, "--json"), 0, "runtrue/charge-1")
    assert result["mixer"]["fill_percent"] == pytest.approx(70.0, abs=0.01)
    made = result["biscuits"]
    assert made["biscuit_g"] == pytest.approx(177 / 0.88, abs=1e-3)
    assert made["count"] == int(1000 * result["solids_kg"] / made["biscuit_g"])
    assert result["cost"] == pytest.approx(sum(line["cost"] for line in result["lines"]), abs=1e-3)
    page = runtrue(*arguments)
    assert "Silica" in page.out
    assert "oldest first" in page.out


def test_short_lots_are_said_and_end_with_3(runtrue: Run) -> None:
    result = whole(runtrue(*CHARGE, "invented-78-kiln-black", "--batch-kg", "4500", "--mixer-litre", "9000", "--json"),
                   3, "runtrue/charge-1")  # fmt: skip
    assert not result["ready"]
    assert {line["ingredient"] for line in result["lines"] if line["short_kg"]} >= {"shellac, bleached"}


def test_the_sheet_has_a_readable_code_for_each_line(runtrue: Run) -> None:
    done = runtrue(*CHARGE, "invented-78-kiln-black", "--batch-kg", "100", "--sheet", "sheet.pdf", "--json")
    result = whole(done, 0, "runtrue/charge-1")
    found, words = set(), ""
    with pypdfium2.PdfDocument("sheet.pdf") as document:
        for page in document:
            image = np.array(page.render(scale=4.0).to_pil().convert("L"))
            found |= {code.text for code in zxingcpp.read_barcodes(image)}
            words += page.get_textpage().get_text_bounded()
    assert found == {line["code"] for line in result["lines"]}
    assert "Weighed by" in words
    assert "Silica" in words
    again = runtrue(*CHARGE, "invented-78-kiln-black", "--batch-kg", "100", "--sheet", "sheet.pdf")
    assert (again.code, again.out) == (2, "")


def test_weighed_as_asked(runtrue: Run) -> None:
    result = whole(runtrue(*WEIGH, "weighings.csv", "--json"), 0, "runtrue/weigh-1")
    assert (result["verdict"], result["decision"]) == ("pass", "go_on")
    assert result["remedy"]["kind"] == "nothing"
    assert all(line["formula_percent"] == pytest.approx(line["mix_percent"], abs=0.01) for line in result["lines"])


def spoil(change: Callable[[list[str]], list[str]]) -> None:
    lines = Path("weighings.csv").read_text(encoding="utf-8").splitlines()
    Path("spoilt.csv").write_text("\n".join([lines[0], *change(lines[1:])]) + "\n", encoding="utf-8")


def test_a_double_and_a_missing_are_named_and_repaired(runtrue: Run) -> None:
    spoil(lambda rows: [*rows[:4], *rows[5:], rows[6]])
    result = whole(runtrue(*WEIGH, "spoilt.csv", "--json"), 3, "runtrue/weigh-1")
    kinds = {(fault["kind"], fault["ingredient"]) for fault in result["faults"]}
    assert kinds == {("missing", "coumarone-indene resin"), ("double", "castor oil")}
    assert result["decision"] == "divide"
    assert "equal parts" in result["said"]
    added = {row["ingredient"]: row["mass_kg"] for row in result["remedy"]["additions"]}
    parts = result["remedy"]["parts"]
    target = {line["ingredient"]: line["target_kg"] for line in result["lines"]}
    assert added["coumarone-indene resin"] * parts == pytest.approx(2 * target["coumarone-indene resin"], rel=1e-5)
    fluxed = whole(runtrue(*WEIGH, "spoilt.csv", "--fluxed", "--json"), 3, "runtrue/weigh-1")
    assert fluxed["decision"] == "refuse"
    assert fluxed["remedy"] is None


def test_the_repaired_charge_is_weighed_as_asked(runtrue: Run) -> None:
    """Adding what the remedy says, to the digits printed, ends in a pass."""
    spoil(lambda rows: [*rows[:4], *rows[5:]])
    result = whole(runtrue(*WEIGH, "spoilt.csv", "--json"), 3, "runtrue/weigh-1")
    assert result["decision"] == "add"
    added = [f'2026-11-25T08:00:00Z,"{a["ingredient"]}",,{a["mass_kg"]},S1,jt' for a in result["remedy"]["additions"]]
    spoil(lambda rows: [*rows[:4], *rows[5:], *added])
    assert runtrue(*WEIGH, "spoilt.csv").code == 0


def test_a_batch_that_grew_by_its_remedy_is_weighed_at_its_new_size(runtrue: Run) -> None:
    lines = Path("weighings.csv").read_text(encoding="utf-8").splitlines()
    cells = lines[15].rsplit(",", 3)
    lines[15] = ",".join([cells[0], f"{1.09 * float(cells[1]):.4f}", *cells[2:]])
    del lines[18]
    Path("spoilt.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = whole(runtrue(*WEIGH, "spoilt.csv", "--json"), 3, "runtrue/weigh-1")
    assert [fault["kind"] for fault in result["faults"]] == ["over", "missing"]
    assert result["remedy"]["kind"] == "restore"
    black = next(row for row in result["classes"] if row["material"] == "colour")
    assert black["mix_percent"] > black["formula_percent"]
    assert result["mix_density_g_cm3"] == pytest.approx(result["density_g_cm3"], rel=0.01)
    added = [f'2026-11-25T08:00:00Z,"{a["ingredient"]}",,{a["mass_kg"]},S1,jt' for a in result["remedy"]["additions"]]
    Path("repaired.csv").write_text("\n".join([*lines, *added]) + "\n", encoding="utf-8")
    grown = f"{result['remedy']['batch_kg']}"
    assert float(grown) == pytest.approx(109.0, abs=0.1)
    repaired = whole(runtrue(*WEIGH, "repaired.csv", "--batch-kg", grown, "--json"), 0, "runtrue/weigh-1")
    assert repaired["decision"] == "go_on"
    assert runtrue(*WEIGH, "repaired.csv").code == 3


def test_line_by_line_from_standard_input(runtrue: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Path("weighings.csv").read_text(encoding="utf-8").splitlines()[1:]
    code = json.loads(Path("charge.json").read_text())["lines"][0]["code"]
    lines[0] = lines[0].replace('"shellac, flake"', code)
    lines.insert(3, "garbled,,,")
    lines[8] = lines[8].replace(lines[8].split(",")[-3], "99.0")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
    outcome = runtrue(*WEIGH, "-")
    assert outcome.code == 3
    told = outcome.out.splitlines()
    assert told[0].startswith("right        shellac, flake")
    assert told[3].startswith("WEIGH AGAIN")
    assert told[8].startswith("STOP")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
    result = whole(runtrue(*WEIGH, "-", "--json"), 3, "runtrue/weigh-1")
    assert [row["call"] for row in result["weighings"]].count("unreadable") == 1


def formula(**changes: str) -> str:
    """Write f.toml of two ingredients, with replacements."""
    content = """[formula]
name = "Two"
basis = "dry"
owner = "me"
date = 2026-10-02
[[ingredient]]
name = "shellac"
class = "binder"
percent = 20.0
moisture_percent = 2.0
density_g_cm3 = 1.16
[[ingredient]]
name = "slate"
class = "filler"
percent = 80.0
density_g_cm3 = 2.8
"""
    for old, new in changes.items():
        key = old.replace("_EQ_", " = ").replace("__", ".")
        assert key in content, key
        content = content.replace(key, new, 1)
    Path("f.toml").write_text(content, encoding="utf-8")
    return "f.toml"


@pytest.mark.parametrize(
    ("changes", "more", "words"),
    [
        ({"percent_EQ_80__0": "percent = 79.0"}, (), "percentages sum to 99 on the dry basis, 1 too few"),
        ({"percent_EQ_80__0": "percent = 80.6"}, (), "0.6 too many"),
        ({"moisture_percent_EQ_2__0": "moisture_percent = -2.0"}, (), "1: key 'moisture_percent': input should"),
        ({'basis_EQ_"dry"': 'basis = "wet"'}, (), "'dry', 'as_charged' or 'solids', got 'wet'"),
        ({"slate": "shellac"}, (), "ingredient number 2: 'shellac' stands there twice"),
        ({"percent_EQ_80__0": "percent = nan"}, (), "number 2: key 'percent': input should be a finite number"),
        ({'class_EQ_"filler"': 'class = "dust"'}, (), "key 'class'"),
        ({}, ("--mixer-litre", "30"), "the chamber holds 30 l: at most"),
        ({"density_g_cm3_EQ_2__8\n": ""}, ("--mixer-litre", "30"), "density_g_cm3"),
    ],
)  # fmt: skip
def test_bad_formulas_are_one_line(runtrue: Run, changes: dict[str, str], more: tuple[str, ...], words: str) -> None:
    outcome = runtrue(*CHARGE, formula(**changes), "--batch-kg", "100", *more, "--sheet", "s.pdf")
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err
    assert not Path("s.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("f.toml", "--batch-kg", "0"), "batch_kg must be 0.001 to"),
        (("f.toml", "--batch-kg", "nan"), "batch_kg must be"),
        (("f.toml",), "give batch_kg, or mixer_litre and fill"),
        (("f.toml", "--batch-kg", "10", "--fill", "0.7"), "give one of them"),
        (("f.toml", "--batch-kg", "10", "--disc-g", "170"), "say which with format"),
        (("kiln-gray", "--batch-kg", "10"), "no formula of this name ships"),
        (("gone.toml", "--batch-kg", "10"), "there is no such file"),
    ],
)
def test_bad_arguments_are_one_line(runtrue: Run, arguments: tuple[str, ...], words: str) -> None:
    formula()
    outcome = runtrue(*CHARGE, *arguments)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err


def test_the_vinyl_formula_as_charged_says_that_it_closes_on_solids(runtrue: Run) -> None:
    content = text("history-vinyl-1976").replace('basis = "solids"', 'basis = "as_charged"')
    Path("v.toml").write_text(content, encoding="utf-8")
    err = runtrue(*CHARGE, "v.toml", "--batch-kg", "100").err
    assert "100.6 as charged, 0.6 too many" in err
    assert 'on solids they sum to 100: write basis = "solids"' in err


HEAD = "time,ingredient,lot,mass_kg,scale,operator\n"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("time,ingredient,lot,mass,scale,operator\n1,slate,,5,,\n", "column 'mass_kg' is missing"),
        (HEAD + "06:00,slate,L1,0,S1,jt\n", "line 2: mass_kg must be above 0 kg"),
        (HEAD + "06:00,slate,L1,nan,S1,jt\n", "line 2: mass_kg 'nan' is no finite number"),
        (HEAD + "06:00,slate,L1,-3,S1,jt\n", "line 2: mass_kg must be 0 to 100000 kg"),
        (HEAD + "06:00,slate,L1,1,5,S1,jt\n", "line 2: more values than columns"),
        (HEAD + "06:00,,L1,1.5,S1,jt\n", "line 2: ingredient is empty"),
        (HEAD, "holds no weighings"),
    ],
)
def test_bad_weighings_are_one_line(runtrue: Run, content: str, words: str) -> None:
    Path("w.csv").write_text(content, encoding="utf-8")
    outcome = runtrue(*WEIGH, "w.csv")
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err


def test_a_charge_that_is_none(runtrue: Run) -> None:
    Path("c.json").write_text("{}", encoding="utf-8")
    outcome = runtrue("compound", "weigh", "c.json", "weighings.csv")
    assert (outcome.code, outcome.out) == (2, "")
    assert "compound charge --json" in outcome.err
