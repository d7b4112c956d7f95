"""Suppliers and customers."""

from inventory.forms.contacts import CustomerForm, SupplierForm
from inventory.models import Customer, Supplier
from inventory.tables.studio import CustomerTable, SupplierTable

from .records import RecordPages


class Suppliers(RecordPages):
    name, folder = "supplier", "setup/suppliers/"
    model, form_class, table_class = Supplier, SupplierForm, SupplierTable
    title = "Suppliers"
    lead = "Whom you buy from. How long a parcel takes decides when to order."
    press = ("Write down a supplier", "inventory:supplier-new")
    new_title = "A new supplier"


class Customers(RecordPages):
    name, folder = "customer", "setup/customers/"
    model, form_class, table_class = Customer, CustomerForm, CustomerTable
    title = "Customers"
    lead = "Whose own metal you cast. It is kept apart from yours, and carries no cost."
    press = ("Write down a customer", "inventory:customer-new")
    new_title = "A new customer"
