"""The fields and constraints of stock, by subject."""

from .buying import BillLine, Customer, Delivery, Receipt, Supplier, TopUp
from .care import Replacement, SettingTest, WearingPart
from .casting import BenchShare, BenchTime, Cast, Piece, Task, TreePart
from .control import LossLimits
from .counting import CountLine, StockCount
from .designs import Design, DesignPart, DesignTime
from .firing import Equipment, Firing
from .kiln_log import KilnLog
from .labels import LabelSheet
from .ledger import Entry, Holder, Movement, OnceKey
from .ordering import CarriageBand, Offer, Order, OrderLine, PriceBreak
from .pictures import Picture
from .planning import (
    CastingDay,
    CastMoment,
    ChecklistItem,
    DayPractice,
    KilnTurn,
    Plan,
    PlanPart,
    PlanPortion,
    Schedule,
    ScheduleStep,
    SentEvent,
)
from .reclaim import Tin
from .refining import Batch, Refiner, RefinerTerms, Settlement
from .stock import Alloy, AlloyPart, CarriedOn, FinenessNote, Lot, Material
from .studio import Studio
