"""A sale, a bill, money back and a gallery, for tests that look at every page."""

from typing import Any

from costing.models import Channel, CustomerBill, Outing, Refund, Sale, SaleLine
from costing.posting.sales import Back, SaleFacts, Sold, post_refund, post_sold, send_out, write_bill
from tests import workshop as w


def make_sales() -> dict[str, Any]:
    """What stands at the addresses of sales, by how they begin; made once."""
    if not Sale.objects.exists():
        channel = Channel.objects.get_or_create(name="Hill", defaults={"commission_pct100": 4_000})[0]
        lot = w.buy(w.grain(), w.g(20), 26)
        cast = w.cast_metal(
            [(lot, 20)], [w.piece("Pod", "2.02"), w.piece("Bud", "2.02"), w.piece("Bee", "2.02")], back=13
        )
        first, second, third = cast.pieces.order_by("number")
        facts = SaleFacts(channel=channel, day=w.DAY, buyer="Ida Finch", is_owed=True)
        sale = post_sold(facts, [Sold(first, w.money("30.33")), Sold(second, w.money("21.07"), w.money(25))])
        write_bill(sale, "Ida Finch", "1 Mill Lane", w.DAY)
        post_refund(
            sale.lines.get(piece=second), Back(w.money("3.33"), w.DAY, came_back=False, reason="a scratch")
        )
        gallery = Outing(kind=Outing.Kind.GALLERY, channel=channel, name="Hill", day=w.DAY)
        send_out(gallery, [(third, w.money("40.05"))])
    return {
        "sales/out/": Outing.objects.all()[0],
        "sales/bills/": CustomerBill.objects.all()[0],
        "sales/refunds/": Refund.objects.all()[0],
        "sales/pieces/": SaleLine.objects.all()[0],
        "sales/": Sale.objects.all()[0],
    }
