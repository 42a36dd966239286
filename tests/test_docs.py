"""The documentation cannot rot: every command, key, default and word is in it."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from duskline.cli.main import cli
from duskline.defaults import defaults

ROOT = Path(__file__).resolve().parents[1]


def text(name: str) -> str:
    """Return a file of the repository."""
    return (ROOT / name).read_text(encoding="utf-8")


def test_generated_pages_are_up_to_date() -> None:
    """Commands, defaults, folder keys and published checks are as the program has them."""
    script = [sys.executable, str(ROOT / "tools" / "make_docs.py"), "--check"]
    found = subprocess.run(script, capture_output=True, text=True, check=False)  # noqa: S603
    assert found.returncode == 0, found.stdout


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_every_command_stands_in_the_readme(name: str) -> None:
    """A person finds each command on the first page."""
    assert f"duskline {name}" in text("README.md") or f"make {name}" in text("README.md")


@pytest.mark.parametrize("key", sorted(defaults()))
def test_every_default_stands_in_its_page(key: str) -> None:
    """Each default is documented with its source."""
    assert f"`{key}`" in text("docs/defaults.md")


def test_the_readme_opens_with_the_job_and_then_the_two_commands() -> None:
    """One paragraph states the job; the two commands follow before anything else."""
    parts = [part for part in text("README.md").split("\n\n") if part.strip()]
    assert parts[0] == "# Duskline"
    assert "when must the spreader stop" in parts[1].replace("\n", " ")
    assert "make demo" in parts[2]
    assert "make test" in parts[2]


def test_links_in_the_docs_lead_somewhere() -> None:
    """Every relative link of README and docs names a file that is there."""
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
            if not target.startswith("http"):
                assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_requirements_are_pinned_by_hash() -> None:
    """No requirement without a hash, and no address of a registry."""
    for name in ("run", "dev"):
        lines = text(f"requirements/{name}.txt").splitlines()
        pinned = [line for line in lines if line and line[0].isalnum()]
        assert pinned
        assert all("==" in line for line in pinned)
        assert sum("--hash=sha256:" in line for line in lines) >= len(pinned)
        assert not any("://" in line for line in lines)


def test_direct_dependencies_are_all_used() -> None:
    """Nothing is installed that the program does not import."""
    wanted = tomllib.loads(text("pyproject.toml"))["project"]["dependencies"]
    names = {re.split(r"[<>=;\[ ]", one)[0] for one in wanted}
    modules = {"svg.py": "svg", "fontpkg-atkinson-hyperlegible": "fontpkg_atkinson_hyperlegible"}
    sources = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "src").rglob("*.py"))
    # Data that the zone reader finds, and what the page server reads uploads with.
    for name in names - {"tzdata", "python-multipart"}:
        module = modules.get(name, name)
        assert re.search(rf"(import|from) {module}|[\"']{module}[\"']", sources), name


def test_every_module_says_what_it_is_about() -> None:
    """A newcomer reads in its first line what it is about."""
    for path in sorted((ROOT / "src" / "duskline").rglob("*.py")):
        first = path.read_text(encoding="utf-8").lstrip()
        assert first.startswith('"""'), path.name


def test_the_python_page_runs_as_printed() -> None:
    """The example gives the output that stands below it."""
    parts = text("docs/python.md").split("```")
    code, shown = parts[1].removeprefix("python\n"), parts[3].strip()
    found = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert found.stdout.strip() == shown
