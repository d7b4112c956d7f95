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

__all__ = [
    "AlloyPremium",
    "AskedPrice",
    "CastingTerms",
    "Channel",
    "FinePrice",
    "MetalPrice",
    "NamedRule",
    "OutsideShare",
    "OutsideWork",
    "Policy",
    "PricePractice",
    "Quote",
    "QuoteLine",
]
