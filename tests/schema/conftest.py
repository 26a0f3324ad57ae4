from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract

if TYPE_CHECKING:
    from rigledger.contract import Contract, Table


@pytest.fixture
def contract() -> Contract:
    return load_contract()


@pytest.fixture
def tables(contract: Contract) -> list[Table]:
    """Give every table with its metric and fact columns."""
    return [contract.wide(group, name) for group, name in contract.tables]
