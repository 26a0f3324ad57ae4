"""What can be wrong with a capture: one problem per place, under the code of its rule."""

from __future__ import annotations

from dataclasses import dataclass

from rigledger.errors import RigledgerError


@dataclass(frozen=True, slots=True)
class CaptureProblem:
    """One thing wrong with a capture.

    Attributes:
        rule: Code of the rule in schema/rules.toml.
        row: Physical row from 1 (the header is row 1 of a CSV file); None for the file as a whole.
        column: Column as declared; None for the row or file as a whole.
        value: The offending value as written; None where the problem is about no single value.
        reason: What is wrong here, in a sentence.
        next_step: What to do about it; empty where the rule's own next step says it all.
    """

    rule: str
    row: int | None
    column: str | None
    value: str | None
    reason: str
    next_step: str = ""


@dataclass(frozen=True, slots=True)
class CaptureRead:
    """What came of reading one file.

    Attributes:
        frames: Number of frames in the table; 0 where there are problems.
        total_ns: Sum of the frame times; 0 where there are problems.
        problems: Everything that is wrong, by row; with any the table is empty.
        remarks: What is doubtful about a capture that was read.
    """

    frames: int
    total_ns: int
    problems: tuple[CaptureProblem, ...]
    remarks: tuple[CaptureProblem, ...] = ()


class CaptureError(RigledgerError, ValueError):
    """A capture can't be used: its declaration, its file or the stored copy is wrong."""

    code = "capture"
