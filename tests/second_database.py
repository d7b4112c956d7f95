"""Which tests are run on the second database too: what may turn out otherwise there, and one of everything else.

What a posting or a page makes of a few rows is Python's work and the same on both. A database's own are its locks, its
triggers and constraints, how it counts, sorts, searches and keeps numbers and days, and each statement it is sent.
So of the tests that touch a database, `--only-database` keeps

- all that need PostgreSQL's server (`postgres`), and the files of `WHOLE`;
- of every other file its first test, and those named in `ALSO`: between them and the rest they send every statement,
  from every function of queries and postings, that any test sends;
- a file that is named on the command line, whole.

Pages' own tests (`test_views_`) are kept where they are named here. STUDIO_THOROUGH keeps all files but those whole.
"""

import re
from pathlib import Path

import pytest

from tests.thorough import TIMES

#: Files of which everything may turn out otherwise, with the reason.
WHOLE = {
    "costing/test_balance.py": "a year of postings of every kind, added up by every report of metal and stock",
    "costing/test_queries.py": "sums and joins over a cast's whole cost",
    "inventory/test_audit_reading.py": "one moment is read while others write",
    "inventory/test_guards.py": "triggers and constraints",
    "inventory/test_ledger_properties.py": "numbers at their bounds, in any order",
    "inventory/test_posting_stock.py": "running balances, back-dating, largest numbers",
    "inventory/test_queries_casting.py": "sums and order",
    "inventory/test_queries_casting_before.py": "sums and order",
    "inventory/test_queries_firing.py": "sums and order",
    "inventory/test_queries_reclaim.py": "sums by month and order",
    "inventory/test_queries_stock.py": "sums by day and order",
    "inventory/test_search.py": "letters and their case",
    "inventory/test_two_hands.py": "locks",
    "inventory/test_views_questions.py": "one visit to every page",
    "kit/test_listing.py": "filters, order and pages of a list",
    "kit/test_statistics.py": "what the planner is told",
    "test_prepare.py": "one transaction over a whole year",
}
#: Files with a database that are not run there at all, with the reason.
LEFT_OUT = {"costing/test_demo.py": "test_balance.py loads the same year, and adds it up"}
#: Beside each file's first test, those that send what no other sends.
ALSO = {
    "costing/test_design_cost.py": """
        test_many_designs_ask_no_more_than_one
    """,
    "costing/test_estimate.py": """
        test_metal_that_is_missing_is_reckoned_at_what_the_rest_costs
        test_the_charge_is_in_pieces_loss_and_what_comes_back_to_the_last_unit
        test_a_customers_metal_carries_no_cost
        test_time_at_the_bench_is_the_mean_of_the_last_casts
        test_a_plan_that_was_begun_or_given_up_still_tells_its_estimate
    """,
    "costing/test_findings.py": """
        test_what_is_not_known_of_a_finding_is_asked_for
    """,
    "costing/test_outside.py": """
        test_it_is_written_changed_and_taken_out_on_its_page
    """,
    "costing/test_plan_fact.py": """
        test_a_time_without_plans_says_so
    """,
    "costing/test_quotes.py": """
        test_it_is_written_down_and_refused_in_sentences
        test_a_kept_price_that_metal_has_overtaken_is_told_and_renewed_by_a_tick
        test_it_becomes_plans_in_one_press
    """,
    "costing/test_reports.py": """
        test_what_the_book_says_of_single_amounts_is_told_to_the_last_decimal
        test_the_csv_holds_the_same_total_as_the_page
    """,
    "costing/test_reports_pieces_and_stock.py": """
        test_pieces_are_those_cast_in_the_time_of_the_alloy_asked_for
    """,
    "costing/test_sales.py": """
        test_bills_are_numbered_without_gaps_in_each_year
        test_pieces_with_a_gallery_stay_the_studios_until_sold_there
        test_what_is_paid_back_or_sold_has_its_limits
    """,
    "inventory/test_audit.py": """
        test_a_customers_lot_with_cost
    """,
    "inventory/test_counting.py": """
        test_blind_it_shows_no_figure_of_the_book
        test_a_lot_that_moved_while_it_was_counted_is_still_on_the_sheet
    """,
    "inventory/test_customers_metal.py": """
        test_metal_used_in_another_alloy_is_told_of_in_both
        test_a_receipt_says_what_was_handed_in_and_what_was_taken_out
        test_a_receipt_is_mended_with_the_weight
        test_a_piece_of_topped_up_metal_is_traced_to_the_studios_lot
        test_a_lot_is_passed_on_from_its_page
        test_a_top_up_is_mended_with_what_stands_on_it_and_taken_back
    """,
    "inventory/test_designs.py": """
        test_a_tray_shares_its_time_to_the_second
        test_a_piece_is_said_to_be_of_a_design
        test_a_design_is_written_down_with_what_it_takes
        test_before_it_was_cast_it_is_what_was_written
        test_a_plan_begins_with_a_design_and_its_name_is_enough
        test_finishing_together_shares_the_time_over_the_tray
    """,
    "inventory/test_fineness_of_mixes.py": """
        test_each_lot_has_its_own_metal_back_from_a_refiner_as_it_was_assayed_meanwhile
    """,
    "inventory/test_fineness_proved.py": """
        test_a_studio_that_was_there_before_keeps_what_it_said_of_its_metal
        test_a_charge_that_was_taken_back_leaves_no_doubt
        test_a_jar_is_melted_and_cast_and_assayed_later
    """,
    "inventory/test_finishing_together.py": """
        test_a_refused_weight_says_how_to_mend_it_and_keeps_what_was_typed
        test_a_hair_at_a_time_does_not_make_grams
        test_the_list_of_pieces_leads_to_what_waits_to_be_weighed
    """,
    "inventory/test_labels.py": """
        test_a_sheet_is_written_down_and_labels_that_do_not_fit_are_refused
        test_labels_are_printed_for_what_the_list_shows_and_is_ticked
    """,
    "inventory/test_loss_limits.py": """
        test_limits_that_cannot_be_set_are_refused_beside_the_field
        test_limits_are_set_anew_by_the_casts_that_the_studio_chooses
    """,
    "inventory/test_mending.py": """
        test_metal_found_later_stands_on_the_finishing_that_lost_it
        test_all_else_that_was_given_stays_when_one_figure_is_mended
    """,
    "inventory/test_ordering.py": """
        TestPages::test_carriage_in_steps_and_prices_in_steps_are_written_on_the_records
        test_an_order_is_struck_out_only_while_nothing_came_and_taken_up_again
        TestPages::test_what_is_picked_from_offers_is_ordered_of_its_supplier
        test_the_rest_is_not_coming_and_what_comes_back_later_is_still_to_come
        test_a_late_one_is_told_until_another_day_is_said_and_lead_times_are_learnt
        TestPages::test_what_can_be_done_with_an_order_stands_on_its_page
        test_what_is_taken_back_is_still_to_come_and_what_is_mended_follows
    """,
    "inventory/test_pictures.py": """
        test_a_crash_between_file_and_row_leaves_no_row_and_its_file_is_swept_away
        test_a_removed_picture_takes_its_files_with_it_once_that_is_sure
        test_the_camera_is_asked_for_one_and_the_phones_files_for_several
        test_a_cast_shows_its_own_pictures_and_those_of_its_pieces
        test_words_of_a_picture_are_mended
    """,
    "inventory/test_planning.py": """
        test_a_plan_that_was_given_up_is_taken_up_again_without_its_hold
        test_a_plan_that_is_changed_keeps_its_day_and_tells_calendars
        test_a_plan_is_read_back_as_it_was_said
    """,
    "inventory/test_reclaim.py": """
        test_only_what_is_alike_goes_together
    """,
    "inventory/test_refining.py": """
        test_the_terms_of_a_day_are_those_in_force
        test_a_mended_paper_keeps_its_lot_and_its_money_follows
    """,
    "inventory/test_run_sheet.py": """
        test_what_cannot_be_asked_is_said_beside_the_field
        test_a_calendar_takes_in_that_a_flask_was_added_given_up_or_is_poured_hotter
    """,
    "inventory/test_trace.py": """
        test_a_lot_names_every_piece_that_it_is_in
    """,
    "inventory/test_unpoured.py": """
        test_a_mistake_goes_with_its_crucible_and_its_moments_and_leaves_no_trace
        test_one_of_which_anything_was_written_is_not_removed
        test_it_may_go_on_after_all
    """,
    "inventory/test_usable.py": """
        test_a_lot_that_sets_out_of_its_time_is_set_aside_until_a_newer_test_is_right
        test_one_day_counts_also_when_the_makers_is_mended_after_opening
    """,
    "inventory/test_views_casting_steps.py": """
        test_time_is_added_and_taken_out
        test_a_tree_of_no_known_lot_can_be_taken_out_again
        test_a_refused_step_says_how_to_mend_it_and_changes_nothing
        test_planned_powder_that_went_damp_is_not_chosen
        test_flux_and_graphite_are_warned_of_where_the_crucible_is_graphite
        test_titles_are_shown_as_text
        test_facts_that_no_stock_hangs_on_are_mended
        test_the_planned_firing_is_the_one_that_is_written_down
    """,
    "inventory/test_views_plans.py": """
        test_a_button_without_its_key_does_nothing
        test_the_list_is_filtered_by_state_and_alloy
        test_a_day_that_is_not_there_is_not_found
        test_an_empty_list_says_what_to_do
        test_the_list_can_be_taken_away
        test_another_flask_goes_into_the_same_firing
        test_a_schedule_for_resin_is_taken_for_a_tree_with_resin_and_for_no_other
    """,
    "inventory/test_wearing.py": """
        test_a_replacement_is_logged_learnt_from_and_taken_back
        test_a_kiln_is_counted_by_hours_and_other_machines_are_not
        test_home_tells_of_it_and_its_page_takes_the_replacing
    """,
    "kit/test_answers.py": """
        test_pages_exports_and_papers_are_kept_by_nobody
    """,
    "kit/test_new_list.py": """
        test_the_new_list_is_taken_away
    """,
    "kit/test_signing_in.py": """
        test_the_mark_of_a_browser_counts_for_its_own_name_only_and_is_not_to_be_forged
    """,
    "kit/test_tables.py": """
        test_a_slice_is_shown_as_it_was_cut
        test_no_address_breaks_a_table_or_makes_it_longer
    """,
}
_ASKS = re.compile(r"django_db|postgres|real_database")
_NEEDS_SERVER = re.compile(r"postgres|real_database")


def may_have_some(file: Path, asked: list[str]) -> bool:
    """Whether a file may hold a test for the second database, by its words: the others are not even read in."""
    if file in named_whole(asked):
        return True
    name = _name_of(file)
    pages_own = file.name.startswith("test_views_") and name not in WHOLE and name not in ALSO
    return bool((_NEEDS_SERVER if pages_own else _ASKS).search(file.read_text()))


def named_whole(asked: list[str]) -> set[Path]:
    """The files (and folders) among the words of the command line."""
    return {Path(one.partition("::")[0]).resolve() for one in asked}


def choose(items: list[pytest.Item], asked: list[str]) -> list[pytest.Item]:
    """Of tests that touch the database those that are run on the second; `asked` are the words of the command line."""
    whole = named_whole(asked)
    kept, met = [], dict[Path, set[str]]()
    for item in items:
        named = item.nodeid.partition("::")[2].partition("[")[0]
        taken = met.setdefault(item.path, set())
        name = _name_of(item.path)
        also = named in ALSO.get(name, "").split() and named not in taken
        wanted = name not in LEFT_OUT and (also or not taken)
        if TIMES > 1 or item.path in whole or name in WHOLE or item.get_closest_marker("postgres") or wanted:
            kept.append(item)
        taken.add(named)
    return kept


def misses(items: list[pytest.Item], asked: list[str]) -> list[str]:
    """What is named in `ALSO` and is not there any more, of the files that were read whole."""
    if any("::" in one for one in asked):
        return []
    there: dict[str, set[str]] = {}
    for item in items:
        there.setdefault(_name_of(item.path), set()).add(item.nodeid.partition("::")[2].partition("[")[0])
    named = {(name, test) for name in there for test in ALSO.get(name, "").split()}
    return sorted(f"{name}::{test}" for name, test in named if test not in there[name])


def _name_of(file: Path) -> str:
    return file.relative_to(Path(__file__).parent).as_posix()
