"""Addresses of the set-up, the first page of an empty studio, and help."""

from django.urls import path

from inventory.views import alloys, contacts, equipment, help, people, records, setup, welcome

urlpatterns = [
    path("welcome/", welcome.welcome, name="welcome"),
    path("help/", help.show_help, name="help"),
    path("setup/", setup.show_setup, name="setup"),
    path("setup/studio/", setup.StudioEdit.as_view(), name="studio-edit"),
    path("setup/starters/", setup.add_starters, name="starters"),
    path("setup/alloys/", alloys.AlloyList.as_view(), name="alloy-list"),
    path("setup/alloys/new/", alloys.edit_alloy, name="alloy-new"),
    path("setup/alloys/<int:pk>/", alloys.edit_alloy, name="alloy-edit"),
    path("setup/suppliers/", contacts.SupplierList.as_view(), name="supplier-list"),
    path("setup/suppliers/new/", contacts.SupplierCreate.as_view(), name="supplier-new"),
    path("setup/suppliers/<int:pk>/", contacts.SupplierUpdate.as_view(), name="supplier-edit"),
    path("setup/customers/", contacts.CustomerList.as_view(), name="customer-list"),
    path("setup/customers/new/", contacts.CustomerCreate.as_view(), name="customer-new"),
    path("setup/customers/<int:pk>/", contacts.CustomerUpdate.as_view(), name="customer-edit"),
    path("setup/equipment/", equipment.EquipmentList.as_view(), name="equipment-list"),
    path("setup/equipment/new/<str:kind>/", equipment.EquipmentCreate.as_view(), name="equipment-new"),
    path("setup/equipment/<int:pk>/", equipment.EquipmentUpdate.as_view(), name="equipment-edit"),
    path("setup/people/", people.PersonList.as_view(), name="person-list"),
    path("setup/people/new/", people.add_person, name="person-new"),
    path("setup/people/<int:pk>/", people.show_person, name="person"),
    path("setup/people/<int:pk>/let-in/", people.let_in, name="person-let-in"),
    path("setup/password/", people.PasswordChange.as_view(), name="password"),
    path("setup/<str:what>/<int:pk>/archive/", records.archive, name="archive"),
]
