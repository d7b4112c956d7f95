"""Suppliers and customers."""

from inventory.filters.studio import InUseFilter
from inventory.forms.contacts import CustomerForm, SupplierForm
from inventory.models import Customer, Supplier
from inventory.tables.studio import CustomerTable, SupplierTable
from studio.kit.listing import ListingView

from .records import RecordCreate, RecordMixin, RecordUpdate


class SupplierList(ListingView):
    title = "Suppliers"
    lead = "Whom you buy from. How long a parcel takes decides when to order."
    queryset = Supplier.objects.all()
    table_class = SupplierTable
    filterset_class = InUseFilter
    press = ("Write down a supplier", "inventory:supplier-new")


class _SupplierMixin(RecordMixin):
    model = Supplier
    form_class = SupplierForm
    list_name = "inventory:supplier-list"
    list_label = "Suppliers"


class SupplierCreate(_SupplierMixin, RecordCreate):
    title = "A new supplier"


class SupplierUpdate(_SupplierMixin, RecordUpdate):
    pass


class CustomerList(ListingView):
    title = "Customers"
    lead = "Whose own metal you cast. It is kept apart from yours, and carries no cost."
    queryset = Customer.objects.all()
    table_class = CustomerTable
    filterset_class = InUseFilter
    press = ("Write down a customer", "inventory:customer-new")


class _CustomerMixin(RecordMixin):
    model = Customer
    form_class = CustomerForm
    list_name = "inventory:customer-list"
    list_label = "Customers"


class CustomerCreate(_CustomerMixin, RecordCreate):
    title = "A new customer"


class CustomerUpdate(_CustomerMixin, RecordUpdate):
    pass
