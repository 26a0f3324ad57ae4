"""The public contract: schema/ read once into typed objects, and what is made from them."""

from rigledger.contract.load import load_contract
from rigledger.contract.model import Contract, Field, ForeignKey, Metric, Rule, Table, Unit

__all__ = ["Contract", "Field", "ForeignKey", "Metric", "Rule", "Table", "Unit", "load_contract"]
