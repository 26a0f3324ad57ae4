"""Named errors of the comparisons: each class has a stable code and says where it happened."""

from __future__ import annotations

from typing import ClassVar

from rigledger.errors import RigledgerError


class ComparisonInputError(RigledgerError, ValueError):
    """Base of the errors raised by `rigledger.statistics.comparisons`.

    Attributes:
        array: name of the array or setting that is wrong.
        index: first offending position in it, or -1 where there is none.
    """

    code: ClassVar[str] = "comparison_input"

    def __init__(self, array: str, index: int, detail: str, next_step: str | None = None) -> None:
        place = f"{array}[{index}]" if index >= 0 else array
        super().__init__(f"{place}: {detail}", next_step=next_step)
        self.array, self.index, self.detail = array, index, detail

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.array, self.index, self.detail, self.next_step))


class ValueNotPositiveError(ComparisonInputError):
    """A measured value is zero, negative, NaN or infinite: it has no logarithm."""

    code = "value_not_positive"


class ArrayShapeError(ComparisonInputError):
    """Arrays that belong together have different lengths or dimensions."""

    code = "array_shape"


class IndexOutOfRangeError(ComparisonInputError):
    """A run or a pair names a cell that isn't there."""

    code = "index_out_of_range"


class CellWithoutRunsError(ComparisonInputError):
    """A pair names a cell that has no run: there is nothing to compare."""

    code = "cell_without_runs"


class SettingOutOfRangeError(ComparisonInputError):
    """A setting lies outside the range in which the formulas hold."""

    code = "setting_out_of_range"
