"""One view for every list: filtered, sorted, paged, and taken away whole as CSV or XLSX."""

from collections.abc import Mapping
from typing import Any

import django_filters
from django.db.models import QuerySet, Sum
from django.db.models.fields import BLANK_CHOICE_DASH
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.generic.base import TemplateView

from studio.kit.context import currency_of
from studio.kit.export import CSV_TYPE, XLSX_TYPE, attachment, write_csv
from studio.kit.fields import DayField
from studio.kit.forms import StudioForm
from studio.kit.ordering import change_query, sort
from studio.kit.tables import BaseTable, lay_out


class FilterForm(StudioForm):
    """The form above a list: every field may stay empty, so none says so. Enter shows what was asked for."""

    marks_optional = False
    enter_goes_on = False


class DayFilter(django_filters.Filter):
    """A day; `lookup_expr="gte"` is from that day on, "lte" up to it."""

    field_class = DayField


class ListFilter(django_filters.FilterSet):
    """Filters above a list. What cannot be read is named beside its field; the others still count."""

    def get_form_class(self) -> type[FilterForm]:
        fields = {name: each.field for name, each in self.filters.items()}
        for field in fields.values():
            if getattr(field, "empty_label", None) == BLANK_CHOICE_DASH[0][1]:
                field.empty_label = "All"
        return type(f"{type(self).__name__}Form", (FilterForm,), fields)


class ListingView(TemplateView):
    """A list of records.

    Set `title`, `queryset` (or `get_queryset`) and `table_class`; if wanted `filterset_class`, `lead` (a sentence
    under the title), `press` (label and name of an address, which an empty table offers too), `ways` (more of these,
    below the list) and `totals` (column to field).
    It asks three questions of the database: how many, their totals, this page; and what the filters ask.
    """

    template_name = "kit/list.html"
    title = ""
    lead = ""
    press: tuple[str, str] | None = None
    ways: tuple[tuple[str, str], ...] = ()
    queryset: "QuerySet[Any] | None" = None
    table_class: type[BaseTable]
    filterset_class: type[django_filters.FilterSet] | None = None
    totals: Mapping[str, str] = {}

    def get_queryset(self) -> "QuerySet[Any]":
        if self.queryset is None:
            raise NotImplementedError("a listing needs a queryset")
        return self.queryset.all()

    def get_table_kwargs(self) -> dict[str, Any]:
        return {}

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        filterset = self.make_filterset()
        rows = self.get_queryset() if filterset is None else filterset.qs
        table = self.table_class(data=rows, totals=self.add_up(rows), **self.get_table_kwargs())
        table.first_step = table.first_step or self.press
        wanted = request.GET.get("export", "")
        if wanted in ("csv", "xlsx"):
            sort(table, request)
            return self.take_away(table, wanted)
        table.take_away = True
        lay_out(table, request)
        context = self.get_context_data(table=table, filterset=filterset, **kwargs)
        return self.render_to_response(context)

    def make_filterset(self) -> django_filters.FilterSet | None:
        if self.filterset_class is None:
            return None
        return self.filterset_class(self.request.GET, queryset=self.get_queryset(), request=self.request)

    def add_up(self, rows: "QuerySet[Any]") -> dict[str, int | None]:
        if not self.totals or self.request.GET.get("export"):
            return {}
        # The aliases must not be names of fields, which the columns often are.
        sums = rows.order_by().aggregate(
            **{f"sum_of_{name}": Sum(field) for name, field in self.totals.items()}
        )
        return {name: sums[f"sum_of_{name}"] for name in self.totals}

    def take_away(self, table: BaseTable, wanted: str) -> HttpResponse:
        name = f"{self.title} {timezone.localdate().isoformat()}.{wanted}"
        headings, rows = table.export_headings(currency_of(self.request)), table.export_rows()
        if wanted == "csv":
            return attachment(write_csv(headings, rows), name, CSV_TYPE)
        from studio.kit.workbook import write_xlsx

        content = write_xlsx(headings, rows, self.title, table.export_decimals())
        return attachment(content, name, XLSX_TYPE)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        filterset, table = kwargs.get("filterset"), kwargs["table"]
        form: BaseForm = filterset.form if filterset is not None else FilterForm()
        is_filtered = has_choice(form)
        if is_filtered:
            table.empty_text = "Nothing fits this filter."
            table.first_step = None
        return super().get_context_data(
            title=self.title,
            lead=self.lead,
            press=(self.press[0], reverse(self.press[1])) if self.press else None,
            ways=[(label, reverse(name)) for label, name in self.ways],
            filter_form=form if form.fields else None,
            is_filtered=is_filtered,
            sorted_by=self.request.GET.get("sort", ""),
            unfiltered_address=change_query(self.request.GET, page=None, **dict.fromkeys(form.fields)),
            **kwargs,
        )


def has_choice(form: BaseForm) -> bool:
    """Whether anything was chosen or typed into a filter form, readable or not."""
    return any(field.value() not in (None, "", [], False) for field in form) if form.is_bound else False
