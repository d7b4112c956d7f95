"""What takes one declared thing to add: something to do with a lot, and a kind of record of the set-up."""

import uuid

import pytest
from django.contrib.auth.models import User
from django.urls import include, path

from inventory.forms.sheet import Sheet
from inventory.forms.stock import LotActionForm
from inventory.forms.studio import SupplierForm
from inventory.models import Lot, Supplier
from inventory.posting.stock import mend_lot
from inventory.tables.studio import SupplierTable
from inventory.views.lots import LOT_ACTIONS
from inventory.views.records import RecordPages
from inventory.views.saving import Action
from tests import workshop as w

pytestmark = [pytest.mark.django_db, pytest.mark.urls(__name__)]


class Platers(RecordPages):
    app, name, folder = "plating", "plater", "setup/platers/"
    model, form_class, table_class = Supplier, SupplierForm, SupplierTable
    title, new_title = "Platers", "A new plater"


urlpatterns = [path("", include("studio.urls")), path("", include((Platers.urls(), "plating")))]


@pytest.fixture
def bench(client):
    w.make_studio()
    client.force_login(User.objects.create_user("Ada"))
    return client


def _move_to_the_safe(lot: Lot, sheet: Sheet, by: User) -> str:
    mend_lot(lot, {"kept_in": "the strongbox", "note": sheet.form.cleaned_data["note"]})
    return "It is in the strongbox."


LOCK_UP = Action[Lot](
    "Lock it up",
    "Put it in the strongbox",
    make=lambda lot, data=None, **layout: Sheet(LotActionForm(data, lot=lot, **layout)),
    save=_move_to_the_safe,
    why_not=lambda lot: "It is in the strongbox already." if lot.kept_in == "the strongbox" else "",
)


def test_an_action_on_a_lot_is_one_declared_thing(bench, monkeypatch):
    monkeypatch.setitem(LOT_ACTIONS.by_name, "lock-up", LOCK_UP)
    lot = w.buy(w.grain(), w.g(100), 130)
    page, address = f"/stock/lots/{lot.pk}/", f"/stock/lots/{lot.pk}/lock-up/"
    assert "Lock it up" in bench.get(page).content.decode()
    assert '<details class="opens" open>' in bench.get(address).content.decode()
    typed = {"once": str(uuid.uuid4()), "day": "never", "note": "for the fair"}
    refused = bench.post(address, typed)
    assert refused.status_code == 422 and 'value="for the fair"' in refused.content.decode()
    for _ in range(2):
        done = bench.post(address, typed | {"day": w.DAY.isoformat()})
        assert done.status_code == 302 and done["Location"] == page
    after = bench.get(page).content.decode()
    assert "It is in the strongbox" in after and "Lock it up" not in after
    lot.refresh_from_db()
    assert (lot.kept_in, lot.note) == ("the strongbox", "for the fair")
    assert "It is in the strongbox already." in bench.get(address, follow=True).content.decode()


def test_a_record_of_the_setup_is_one_declared_thing(bench):
    typed = {"name": "Hollin Refining", "lead_time_days": "9", "lead_time_spread_days": "2", "contact": ""}
    assert "Platers" in bench.get("/setup/platers/").content.decode()
    assert "A new plater" in bench.get("/setup/platers/new/").content.decode()
    refused = bench.post("/setup/platers/new/", typed | {"lead_time_days": "soon"})
    assert refused.status_code == 422 and 'value="Hollin Refining"' in refused.content.decode()
    assert bench.post("/setup/platers/new/", typed)["Location"] == "/setup/platers/"
    plater = Supplier.objects.get()
    changed = bench.post(f"/setup/platers/{plater.pk}/", typed | {"lead_time_days": "12"}, follow=True)
    assert "Saved: Hollin Refining." in changed.content.decode()
    assert bench.post(f"/setup/plater/{plater.pk}/archive/")["Location"] == "/setup/platers/"
    plater.refresh_from_db()
    assert (plater.lead_time_days, plater.archived) == (12, True)
    assert "Bring it back" in bench.get(f"/setup/platers/{plater.pk}/").content.decode()
