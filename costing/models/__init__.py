"""What things cost and what is asked for them, by subject. No row here moves stock."""

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
    "Policy",
    "PricePractice",
    "Quote",
    "QuoteLine",
]
