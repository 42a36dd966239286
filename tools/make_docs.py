"""Write the generated pages of the documentation, or with --check say which are stale.

Pages: commands (from the program's own help), defaults and sources (from the tables), the keys
of farm.toml (from its form), what is checked against what (from tests/published), and the levers
of evenness on two example farms (from the answer itself).
"""

from __future__ import annotations

import ast
import sys
from pathlib import Path
from typing import Any

import click

from duskline.answers.evenness import EvennessAnswer
from duskline.cli.main import cli
from duskline.core.farm import Farm
from duskline.defaults import NO_SOURCE, Default, defaults, sources
from duskline.exchange.farm_toml import FarmToml
from duskline.words.defaults import value_text

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
MADE = "<!-- Made by tools/make_docs.py; do not edit by hand. -->\n\n"


def commands_page() -> str:
    """Return every command's own help text."""
    parts = [MADE, "# Commands\n\n"]
    context = click.Context(cli, info_name="duskline", max_content_width=80)
    parts += ["```\n", cli.get_help(context), "\n```\n"]
    for name in sorted(cli.commands):
        command = cli.commands[name]
        inner = click.Context(command, info_name=f"duskline {name}", max_content_width=80)
        parts += [f"\n## duskline {name}\n\n```\n", command.get_help(inner), "\n```\n"]
    return "".join(parts)


def _cell(row: Default, value: float) -> str:
    us, metric = value_text(row, value, "us"), value_text(row, value, "metric")
    return us if us == metric else f"{us} ({metric})"


def defaults_page() -> str:
    """Return the table of defaults and the bibliography."""
    lines = [MADE, "# Defaults and where they come from\n\n"]
    lines.append(
        "A farm's own figure always wins. A source in brackets stands in the bibliography below; "
        "the rest is called what it is.\n\n"
    )
    lines.append("| key | what | low | typical | high | source |\n|---|---|---|---|---|---|\n")
    for row in defaults().values():
        source = row.source if row.source in NO_SOURCE else f"[{row.source}]"
        where = f"; {row.where}" if row.where else ""
        cells = [_cell(row, value) for value in (row.low, row.typical, row.high)]
        lines.append(
            f"| `{row.key}` | {row.name} | {cells[0]} | {cells[1]} | {cells[2]} | "
            f"{source}{where} |\n"
        )
    lines.append("\n## Bibliography\n\n")
    for source_row in sources().values():
        lines.append(f"- [{source_row.key}] {source_row.line}. <{source_row.address}>\n")
    return "".join(lines)


def _type_of(schema: dict[str, Any]) -> str:
    for option in schema.get("anyOf", [schema]):
        if option.get("type") == "null":
            continue
        if "enum" in option:
            return " or ".join(f'"{value}"' for value in option["enum"])
        if option.get("examples"):
            return f'a text such as `"{option["examples"][0]}"`'
        if option.get("type") == "array":
            return "a list"
        if option.get("format") == "date":
            return "a date such as `2026-10-18`"
        if "$ref" in option:
            return "a table"
        names = {"integer": "a whole number", "number": "a number", "boolean": "true or false"}
        return names.get(option.get("type", ""), "a text")
    return "a text"


def folder_page() -> str:
    """Return the keys of farm.toml, table by table."""
    schema = FarmToml.model_json_schema()
    lines = [MADE, "# The keys of farm.toml\n\n"]
    for name, entry in schema["properties"].items():
        many = entry.get("type") == "array"
        target = (entry.get("items") or entry).get("$ref") or entry.get("allOf", [{}])[0].get(
            "$ref"
        )
        table = schema["$defs"][target.rsplit("/", 1)[-1]]
        lines.append(f"## {'[[' if many else '['}{name}{']]' if many else ']'}\n\n")
        lines.append(f"{table.get('description', '').strip()}\n\n")
        lines.append("| key | form | needed |\n|---|---|---|\n")
        needed = set(table.get("required", []))
        for key, value in table["properties"].items():
            lines.append(f"| `{key}` | {_type_of(value)} | {'yes' if key in needed else ''} |\n")
        lines.append("\n")
    return "".join(lines)


def checked_page() -> str:
    """Return each published check with the claim its test makes."""
    lines = [MADE, "# What is checked against what\n\n"]
    lines.append(
        "Each test below compares Duskline with a published figure, a standard or a reference "
        "library; the source stands beside the figures in the file.\n"
    )
    for path in sorted((ROOT / "tests" / "published").glob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        lines.append(f"\n## {path.stem.removeprefix('test_')}\n\n")
        heading = ast.get_docstring(tree)
        if heading:
            lines.append(f"{' '.join(heading.split())}\n\n")
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                claim = (ast.get_docstring(node) or node.name).split("\n\n")[0]
                lines.append(f"- {' '.join(claim.split())}\n")
    return "".join(lines)


def day_picture() -> str:
    """Return the day strip of the first example, for the README."""
    from duskline.answers.day import DayQuestion, day_answer
    from duskline.draw import day_strip
    from duskline.exchange.farmfolder import read_farm

    farm = read_farm(ROOT / "examples" / "rye-after-soybeans")
    return day_strip(day_answer(farm, DayQuestion()), farm.system, width=1000, height=430)


EVENNESS_FIELDS = (("rye-after-soybeans", "A1"), ("oats-and-radish", "B1"))


def _evenness_of(example: str, name: str) -> tuple[Farm, EvennessAnswer]:
    from duskline.answers.evenness import evenness_answer
    from duskline.exchange.farmfolder import read_farm

    farm = read_farm(ROOT / "examples" / example)
    return farm, evenness_answer(farm, name, with_map=False)


def levers_page() -> str:
    """Return what `duskline evenness` says of the first field of the two farms with trays."""
    from duskline.words.evenness import evenness_headline, lever_table, lines, table_notes

    parts = [MADE, "# The levers on two farms\n\n"]
    parts.append(
        "What `duskline evenness` says of the first field of each example with a tray test; how "
        "it comes about is in [evenness.md](evenness.md).\n"
    )
    for example, name in EVENNESS_FIELDS:
        farm, answer = _evenness_of(example, name)
        system = farm.system
        parts.append(f"\n## {name} of {example}: {evenness_headline(answer, system)}\n\n")
        parts.append(f"![Seed across the driving of {name}](evenness-{name.lower()}.svg)\n\n")
        parts += [f"- {line}\n" for line in lines(answer, system)]
        parts.append("\n```\n")
        parts += [f"{line}\n" for line in lever_table(answer, system)]
        parts.append("```\n\n")
        parts += [f"- {line}\n" for line in table_notes(answer, system)]
    return "".join(parts)


def strips_picture(example: str, name: str) -> str:
    """Return the strips of a field before and after covering."""
    from duskline.draw.bands import OldRows, bands_picture

    farm, answer = _evenness_of(example, name)
    angle = answer.angle
    if angle is None:
        raise ValueError(f"{name}: nothing covers it")
    return bands_picture(
        answer.sown,
        answer.worked_in,
        farm.system,
        driving_width_m=answer.driving_width_m,
        angle_rad=angle.angle_rad,
        old_rows=OldRows(
            spacing_m=angle.row_spacing_m,
            kept_along_fraction=angle.row_kept_along,
            kept_across_fraction=angle.row_kept,
        ),
        width=1000.0,
        height=560.0,
    )


PAGES = {
    "commands.md": commands_page,
    "defaults.md": defaults_page,
    "farm-toml.md": folder_page,
    "checked.md": checked_page,
    "evenness-levers.md": levers_page,
}


def main() -> int:
    """Write the pages, or check them."""
    checking = "--check" in sys.argv[1:]
    stale = []
    DOCS.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        text, path = page(), DOCS / name
        if checking and (not path.is_file() or path.read_text(encoding="utf-8") != text):
            stale.append(name)
        elif not checking:
            path.write_text(text, encoding="utf-8")
    if not checking:
        (DOCS / "day-strip.svg").write_text(day_picture(), encoding="utf-8")
        for example, name in EVENNESS_FIELDS:
            picture = DOCS / f"evenness-{name.lower()}.svg"
            picture.write_text(strips_picture(example, name), encoding="utf-8")
    if stale:
        print(f"stale: {', '.join(stale)}; run: make docs")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
