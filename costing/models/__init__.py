"""What things cost and what is asked for them, by subject. No row here moves stock."""

from .outside import OutsideShare, OutsideWork
from .policy import Policy
from .prices import (
    AlloyPremium,
    AskedPrice,
    CastingTerms,
    Channel,
    FinePrice,
    MetalPrice,
    NamedRule,
    PricePractice,
)
from .quotes import Quote, QuoteLine
from .sales import BillRow, CustomerBill, Outing, OutPiece, Refund, Sale, SaleLine, SalesPractice

__all__ = [
    "AlloyPremium",
    "AskedPrice",
    "BillRow",
    "CastingTerms",
    "Channel",
    "CustomerBill",
    "FinePrice",
    "MetalPrice",
    "NamedRule",
    "OutsideShare",
    "OutsideWork",
    "OutPiece",
    "Outing",
    "Policy",
    "PricePractice",
    "Quote",
    "QuoteLine",
    "Refund",
    "Sale",
    "SaleLine",
    "SalesPractice",
]
