"""What can go wrong in an audit, each with a code of its own."""

from __future__ import annotations

from rigledger.errors import StudyError


class UnknownNameError(StudyError):
    """A rig, title or metric that the study doesn't have."""

    code = "audit_unknown_name"


class AlreadyCurrentError(StudyError):
    """The announced version is the one that is in use already."""

    code = "audit_already_current"


class StackOrderError(StudyError):
    """A stack is dated before the one it followed."""

    code = "audit_stack_before_predecessor"


class NothingToRetestError(StudyError):
    """No cell can be held against a re-test: none is touched, or none has runs enough."""

    code = "audit_nothing_to_retest"


class BudgetError(StudyError):
    """The budget doesn't reach for a single cell."""

    code = "audit_budget"


class PlanEditedError(StudyError):
    """A re-test plan is not as it was written."""

    code = "audit_plan_edited"


class OtherPlanError(StudyError):
    """The study holds no results for this plan, or the plan is of another study."""

    code = "audit_results_for_another_plan"
