"""A quote: its range, its flasks, what to buy, its price, its plans, and what its papers say."""

from datetime import timedelta
from fractions import Fraction
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pypdf import PdfReader

from costing.models import CastingTerms, MetalPrice, Policy, Quote, QuoteLine
from costing.posting.quotes import make_plans
from costing.queries.designs import AS_CAST, NO_TIME
from costing.queries.quotes import find_quote, read_figures
from costing.queries.wanted import wanted_by_quotes
from inventory.models import Design, DesignPart, Equipment, Material, Plan, Studio
from inventory.posting.casting_records import record_time
from inventory.posting.designs import claim_pieces
from inventory.posting.pieces import post_finish
from inventory.posting.refusal import Refused
from inventory.queries.outlook import material_outlook
from tests import workshop as w
from tests.inventory import plans
from tests.inventory.test_views_casting import rows
from tests.support import count_queries, once, plain, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("studio")]
UNIT = 1_000_000


@pytest.fixture
def quote():
    """12 studs and 6 brooches in sterling, of which three flasks were cast before; one stud went back in the pot."""
    Policy.objects.create(from_day=w.DAY, hourly_rate_micro=20 * UNIT, tax_pct100=2000)
    plans.stock(fresh="300")
    lot = w.buy(w.grain(), w.g(400), 400)
    made = [
        Design.objects.create(name=name, alloy=w.sterling(), pattern_material=w.wax(), pattern_mg=wax)
        for name, wax in (("Stud", 190), ("Brooch", 930))
    ]
    for turn in range(3):
        cast = w.cast_metal(
            [(lot, 60)], [w.piece("Stud", f"{8 + turn}.2", 4), w.piece("Brooch", 20 + turn, 2)], back=27
        )
        for piece in cast.pieces.select_related("cast", "holder"):
            post_finish(piece, piece.as_cast_mg - 100 - 10 * turn, 0, w.DAY)
            record_time(
                cast, w.DAY, 10 + turn + (20 if piece.as_cast_mg > 5_000 else 0), piece=piece, task="file"
            )
    for design in made:
        claim_pieces(design)
    for needed in (plans.flask, plans.crucible, w.kiln, plans.schedule, w.powder):
        needed()
    return offer(made, (12, 6))


def offer(made, quantities, **facts):
    quote = Quote.objects.create(name="Spring order", alloy=w.sterling(), made_on=w.DAY, **facts)
    for place, (design, quantity) in enumerate(zip(made, quantities, strict=True)):
        QuoteLine.objects.create(quote=quote, design=design, quantity=quantity, place=place)
    return quote


def figures_of(quote):
    return read_figures(find_quote(quote.pk))


def test_the_range_stands_about_what_the_pieces_are_expected_to_cost(quote):
    found = figures_of(quote)
    expected = sum(row.line.quantity * row.costed.cost.total_micro for row in found.rows)
    assert found.range.middle_micro == expected
    assert found.range.low_micro < expected < found.range.high_micro
    # Four studs and two brooches came of a flask so far, and six castings on average.
    assert [row.fits for row in found.rows] == [6, 6]
    assert found.flasks.castings == ((4, 2), (4, 2), (4, 2))


def test_a_price_of_its_own_is_offered_whatever_the_rules_say(quote, bench):
    before = figures_of(quote)
    bench.post(f"/pieces/quotes/{quote.pk}/keep/")
    assert [line.price_micro for line in quote.lines.all()] == [row.kept.told_micro for row in before.rows]
    Policy.objects.update(hourly_rate_micro=90 * UNIT)
    assert figures_of(quote).add_up("told_micro") == before.add_up("told_micro")


def test_the_page_says_price_range_flasks_and_what_to_buy(bench, quote):
    with CaptureQueriesContext(connection) as asked:
        said = text_of(bench.get(f"/pieces/quotes/{quote.pk}/"))
    # The cost rules are read once for all that a page works out.
    assert sum('FROM "costing_policy"' in one["sql"] for one in asked) == 1 and len(asked) <= 48
    assert "eight times in ten" in said and "in 3 flasks" in said
    assert "Sterling: " in said and "Investment powder: " in said and "Green wax: " in said
    assert "Keep these prices" in said


def test_it_becomes_plans_in_one_press(bench, quote):
    page = bench.get(f"/pieces/quotes/{quote.pk}/")
    form = page.context["form"]
    data = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    data = {name: form.fields[name].prepare_value(value) for name, value in data.items()} | once()
    # With one flask in use it goes into three firings, a day apart, and the last is when it was wished for.
    assert "They are planned in 3 firings, the first on " in text_of(page)
    wish_at = timezone.localtime(form.initial["wish_at"])
    data["wish_at"] = (wish_at + timedelta(days=9)).strftime("%Y-%m-%dT%H:%M")
    answer = bench.post(f"/pieces/quotes/{quote.pk}/", data, follow=True)
    assert "3 flasks are planned, in 3 firings, the first on " in text_of(answer)
    days = [timezone.localtime(plan.day.wish_at) for plan in Plan.objects.order_by("pk")]
    assert days == [wish_at + timedelta(days) for days in (7, 8, 9)]
    Plan.objects.update(dropped=True, holds=False)
    more = [plans.flask(name) for name in ("Second", "Third")]
    answer = bench.post(f"/pieces/quotes/{quote.pk}/", data | once(), follow=True)
    assert "3 flasks are planned, in one firing." in text_of(answer)
    # With one flask in use the page chooses it again.
    Equipment.objects.filter(pk__in=[flask.pk for flask in more]).update(archived=True)
    answer = bench.get(f"/pieces/quotes/{quote.pk}/")
    # What its own plans hold is held for it: nothing is short that was enough before.
    before, after = (one.context["needs"].needs for one in (page, answer))
    assert [need.sentence for need in after] == [need.sentence for need in before]
    made = list(Plan.objects.filter(dropped=False).order_by("pk"))
    assert len({plan.day_id for plan in made}) == 1
    assert len({plan.flask_id for plan in made}) == 3, "a flask cannot stand in one firing twice"
    counts = [[(part.design.name, part.count) for part in plan.parts.all() if part.is_piece] for plan in made]
    assert counts == [[("Stud", 4), ("Brooch", 2)]] * 3
    assert all(plan.portions.exists() for plan in made)
    quote = find_quote(quote.pk)
    with pytest.raises(Refused, match="planned already"):
        make_plans(quote, [], Studio.objects.get())


def test_a_kept_price_that_metal_has_overtaken_is_told_and_renewed_by_a_tick(bench, quote):
    """Without a floor's rule the least is the cost with metal of today: at a thousand times its price none holds."""
    under = "/prices/under-the-floor/"

    def listed():
        return {row.name: row for row, _, _ in bench.get(under).context["rows"]}

    assert listed() == {}
    bench.post(f"/pieces/quotes/{quote.pk}/keep/")
    stud, brooch = quote.lines.get(design__name="Stud"), quote.lines.get(design__name="Brooch")
    assert listed() == {}
    MetalPrice.objects.create(
        alloy=quote.alloy, day=timezone.localdate(), price_micro=1_500_000 * UNIT, per_unit="kg"
    )
    assert (set(listed()), listed()["Stud"].asked_micro) == ({"Stud", "Brooch"}, stud.price_micro)
    assert "2 lines of quotes are asked at less than their floor" in text_of(bench.get(under))
    told = listed()["Stud"].suggested_micro
    typed = {
        f"take_q{stud.pk}": "on",
        f"price_q{stud.pk}": str(told // UNIT),
        "day": str(w.DAY),
        "reason": "",
    }
    assert bench.post(under, typed | once()).status_code == 302
    assert set(listed()) == {"Brooch"}
    kept = dict(quote.lines.values_list("design__name", "price_micro"))
    assert kept == {"Stud": told, "Brooch": brooch.price_micro}
    Quote.objects.update(archived=True)
    assert listed() == {}
    assert bench.post(under, typed | once()).status_code == 422, "it is not offered any more"


def test_it_is_cast_the_evening_before_it_is_wanted(bench, quote):
    """And tomorrow evening where that is gone already, or nothing is said."""
    address, today = f"/pieces/quotes/{quote.pk}/", timezone.localdate()
    for days, offered in ((30, 29), (1, 1), (-5, 1)):
        Quote.objects.filter(pk=quote.pk).update(wanted_on=today + timedelta(days))
        page = bench.get(address)
        form = page.context["form"]
        wish_at = form.initial["wish_at"]
        # What the flasks do not have alike is not asked for.
        assert not {"alloy", "sprues", "owner"} & set(form.fields)
        assert timezone.localtime(wish_at).date() == today + timedelta(offered)
        assert ("too soon" in text_of(page)) == (offered == 1)


def test_the_customers_paper_has_no_cost_and_the_studios_has_it(bench, quote):
    def paper(name):
        content = bench.get(f"/reports/{name}.pdf?quote={quote.pk}").content
        return plain(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages))

    theirs, ours = paper("quote"), paper("quote-cost")
    found = figures_of(quote)
    assert "Stud" in theirs and "Together" in theirs and "tax of 20 %" in theirs
    for word in ("cost", "Cost", "leaves", "margin", "fail", "wax"):
        assert word not in theirs
    assert "eight times in ten" in ours and "what is left of each price" in ours
    assert f"{found.range.middle_micro / UNIT:.2f}" in ours


def test_it_is_written_down_and_refused_in_sentences(bench, quote):
    stud = Design.objects.get(name="Stud")
    facts = {"name": "Autumn", "alloy": w.sterling().pk, "wanted_on": "2027-03-01"}
    answer = bench.post("/pieces/quotes/new/", {**facts, **rows("lines")})
    assert answer.status_code == 422 and "Choose at least one design" in text_of(answer)
    line = {"design": stud.pk, "quantity": "3"}
    answer = bench.post("/pieces/quotes/new/", {**facts, **rows("lines", line, line)})
    assert answer.status_code == 422 and "stands here twice" in text_of(answer)
    bench.post("/pieces/quotes/new/", {**facts, **rows("lines", line | {"price": "41.50", "fits": "9"})})
    made = Quote.objects.get(name="Autumn").lines.get()
    assert (made.quantity, made.price_micro, made.fits) == (3, 41_500_000, 9)
    assert "Autumn" in text_of(bench.get(f"/pieces/quotes/{made.quote_id}/edit/"))


def test_a_design_that_nobody_weighed_is_named(bench, quote):
    bare = Design.objects.create(name="Moth", alloy=w.sterling())
    other = offer([bare], (2,))
    said = text_of(bench.get(f"/pieces/quotes/{other.pk}/"))
    assert "Nobody knows what one of these weighs yet: Moth." in said
    assert "what a pattern of Moth is made of and weighs" in said


def test_more_lines_ask_no_more(quote):
    few = count_queries(lambda: figures_of(quote))
    more = [
        Design.objects.create(name=f"Bud {number}", alloy=w.sterling(), cast_mg=900) for number in range(4)
    ]
    many = offer(more, (1, 2, 3, 4))
    assert count_queries(lambda: figures_of(many)) <= few


def test_what_an_open_quote_takes_is_bought_by_the_day_that_it_is_wanted(quote):
    """12 studs of 2.30 g and 6 brooches of 10.50 g as they were cast; 3 flasks for four at a time and 3 for two."""
    today = timezone.localdate()
    Quote.objects.filter(pk=quote.pk).update(wanted_on=today + timedelta(days=9))
    wires = Material.objects.create(name="Ear wires", kind="finding", unit="items")
    DesignPart.objects.create(design=Design.objects.get(name="Stud"), material=wires, quantity=2)
    by_name = {one.material.name: one.outlook for one in material_outlook(Studio.objects.get(), today)}
    metal, findings = by_name["Sterling grain"], by_name["Ear wires"]
    assert [(one.day, one.quantity, one.what) for one in metal.asked.takes] == [
        (today + timedelta(days=9), w.g("90.6"), "the quote Spring order")
    ]
    assert findings.is_due and plain(findings.because).startswith("the quote Spring order lacks 24 items")
    assert [one.quantity for one in wanted_by_quotes(today) if one.is_flasks] == [3, 3]
    assert wanted_by_quotes(today + timedelta(days=10)) == []
    Quote.objects.update(archived=True)
    assert wanted_by_quotes(today) == []


def test_a_quote_in_the_customers_own_metal_is_casting_for_others(bench, quote):
    """12 studs and 6 brooches at 1.20 a gram and 18.00 a flask, by grams; their metal costs nothing."""
    CastingTerms.objects.create(name="Trade", gram_micro_per_kg=1_200 * UNIT, flask_micro=18 * UNIT)
    facts = {"name": quote.name, "alloy": quote.alloy_id, "own_metal": "on"}
    line = {"design": Design.objects.get(name="Stud").pk, "quantity": "3"}
    answer = bench.post(f"/pieces/quotes/{quote.pk}/edit/", facts | rows("lines", line))
    assert answer.status_code == 422 and "Choose whose metal it is" in text_of(answer)
    before = figures_of(quote)
    Quote.objects.filter(pk=quote.pk).update(own_metal=True, customer=w.customer())
    found = figures_of(quote)
    masses = [row.costed.learnt.cast.value for row in found.rows]
    whole_mg = masses[0] * 12 + masses[1] * 6
    by_hand = [mass * (1_200 + Fraction(3 * 18 * UNIT, whole_mg)) for mass in masses]
    assert [row.kept.told_micro for row in found.rows] == [round(each / 10_000) * 10_000 for each in by_hand]
    assert all(row.costed.parts.metal_micro == 0 for row in found.rows)
    assert all(row.costed.cost.making.own_seconds == 0 for row in found.rows), "they get it as cast"
    assert any(row.costed.cost.making.own_seconds for row in before.rows)
    assert AS_CAST in found.notes and NO_TIME not in found.notes
    assert found.range.high_micro < before.range.low_micro
    page = bench.get(f"/pieces/quotes/{quote.pk}/")
    said = text_of(page)
    assert "of their own, priced as" in said and "What casting one costs them: Trade" in said
    assert "0.00 g here" in plain(page.context["needs"].needs[0].sentence), "only their metal counts"
    assert wanted_by_quotes(timezone.localdate()) == []
    Quote.objects.filter(pk=quote.pk).update(wanted_on=timezone.localdate())
    assert not any(one.alloy for one in wanted_by_quotes(timezone.localdate()))
    CastingTerms.objects.all().delete()
    assert "No terms of casting for others are written down" in text_of(
        bench.get(f"/pieces/quotes/{quote.pk}/")
    )
