"""Problems in a person's files, collected so that all are seen at once."""

from __future__ import annotations

from dataclasses import dataclass

from duskline.core.errors import DusklineError

__all__ = ["FolderProblem", "Problem"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One thing to put right: where it stands, what was read, what was expected."""

    file: str
    where: str
    read: str
    expected: str
    hint: str = ""

    @property
    def sentence(self) -> str:
        """The problem as one line a person can act on."""
        place = f"{self.file}, {self.where}" if self.where else self.file
        hint = f" {self.hint}" if self.hint else ""
        return f"{place}: read {self.read}; expected {self.expected}.{hint}"


class FolderProblem(DusklineError, ValueError):
    """The farm folder has problems; ``problems`` lists every one of them."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(problem.sentence for problem in problems))
        self.problems = problems
