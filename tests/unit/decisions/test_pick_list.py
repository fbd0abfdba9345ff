"""What to fetch for each job: needs, the shelf in the order of the jobs, stand-ins, companions, days to order by."""

from functools import cache

import pandas as pd

from pipeline.decisions import order_plan, pick_list
from tests.support import hand_shop

DONE = [f"D{n}" for n in range(1, 13)]
BASE = {
    "shop": "key value\ntoday 2026-01-10",
    "families": "family name\nem EM",
    "parts": "part description wear_class shelf\ncoil Coil coil B2\nlamp Lamp lamp C3\nsleeve Sleeve sleeve A1\n"
    "late Late_coil coil B3\nother Other_coil coil B4",
    "jobs": "job family scope booked_on planned_start_on started_on delivered_on\n"
    + "\n".join(f"{job} em thorough 2025-{n:02d}-01 - 2025-{n:02d}-03 2025-{n:02d}-25" for n, job in enumerate(DONE, 1))
    + "\nR1 em thorough 2025-11-01 2025-12-01 2025-12-05 -"
    + "\nB2 em thorough 2025-11-20 2026-02-10 - -\nB1 em thorough 2025-12-20 2026-01-20 - -",
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(f"{job} lamp 10 2025-{n:02d}-05" for n, job in enumerate(DONE, 1)) + "\nD1 coil 1 2025-01-05",
    "vendors": "vendor freight_flat lead_time_days order_hours\nnorth 9 6 0.4",
    "offers": "vendor part pack_price quoted_on\nnorth coil 18 2025-06-01\nnorth lamp 0.3 2025-06-01",
    "counts": "part counted_on qty_pcs\ncoil 2026-01-01 3\nlamp 2026-01-01 25\nsleeve 2026-01-01 9\n"
    "late 2026-01-01 0\nother 2026-01-01 0",
    "findings": "job assembly part qty_pcs condition action\nR1 flip coil 2 failed -\nR1 flip lamp 4 good -\n"
    "B2 flip coil 2 worn replace\nB1 flip coil 2 missing -",
}


@cache
def made(**tables):
    """The list of the base shop with these tables in place of its own, made once; nobody changes it."""
    with hand_shop.store(**(BASE | tables)) as connection:
        return pick_list.make(order_plan.make(connection), connection)


def lines_of(part, *columns, **tables):
    found = made(**tables).lines
    found = found[found["part"] == part]
    return found[list(columns)].astype(object).where(found[list(columns)].notna(), None).values.tolist()


def test_the_table_has_the_columns_of_the_contract():
    assert list(pick_list.table(made())) == pick_list.COLUMNS == [
        "job", "part", "need_pcs", "on_shelf_pcs", "shelf", "short_pcs", "substitute", "condition", "order_by_on"]


def test_the_job_planned_first_gets_the_pieces_whatever_its_number():
    assert lines_of("coil", "job", "need_pcs", "on_shelf_pcs", "shelf", "short_pcs") == [
        ["R1", 2, 2, "B2", 0], ["B1", 2, 1, "B2", 1], ["B2", 2, 0, "B2", 2]]


def test_a_job_without_a_planned_day_is_served_last():
    jobs = BASE["jobs"].replace("B1 em thorough 2025-12-20 2026-01-20", "B1 em thorough 2025-12-20 -")
    assert [row[0] for row in lines_of("coil", "job", jobs=jobs)] == ["R1", "B2", "B1"]
    assert lines_of("coil", "job", "order_by_on", jobs=jobs)[-1] == ["B1", None]


def test_what_the_job_has_taken_is_off():
    taken = BASE["job_parts"] + "\nR1 coil 1 2025-12-20\nB1 coil 5 2025-12-21"
    assert lines_of("coil", "job", "need_pcs", job_parts=taken) == [["R1", 1], ["B2", 2]]


class TestExpectedUse:
    def test_a_job_nobody_looked_into_needs_what_such_jobs_mostly_take(self):
        found = made(findings="job assembly part condition\nR1 flip coil failed").lines
        expected = found[found["known_from"] == "expected use"]
        assert expected[["job", "part", "need_pcs"]].values.tolist() == [["B1", "lamp", 10], ["B2", "lamp", 10]]
        assert expected["chance_share"].between(0.8, 1).all()

    def test_a_rare_part_is_not_listed(self):
        assert "coil" not in set(made(findings="job assembly part condition\nR1 flip lamp good").lines["part"])

    def test_accepted_lines_settle_their_own_parts(self):
        lines = "job version option kind part qty_pcs amount accepted_on\n"
        found = made(findings="job assembly part condition\nR1 flip lamp good",
                     quote_lines=f"{lines}B1 1 thorough part coil 3 40 2025-12-28\n"
                     "B1 1 thorough part lamp 2 4 2025-12-28").lines.query("job == 'B1'")
        assert found[["part", "need_pcs", "known_from"]].values.tolist() == [
            ["coil", 3, "accepted lines"], ["lamp", 2, "accepted lines"]]

    def test_findings_settle_the_whole_job(self):
        assert set(made().lines["part"]) == {"coil"}


class TestOrderBy:
    def test_the_vendors_lead_time_in_four_of_five_orders_is_left(self):
        with hand_shop.store(**BASE) as connection:
            plan = order_plan.make(connection)
            days = plan.facts.lead_times.quantile_days(["north"], 0.8, 14.0)[0]
            found = pick_list.make(plan, connection).lines.set_index("job")["order_by_on"]
        assert 6 < days < 12
        assert pd.isna(found["R1"])  # all there
        for job, planned in (("B1", "2026-01-20"), ("B2", "2026-02-10")):
            assert (pd.Timestamp(planned) - found[job]).days == -int(-days // 1)

    def test_what_is_on_its_way_is_not_ordered_again_and_goes_to_who_is_first(self):
        found = lines_of("coil", "job", "coming_pcs", "order_by_on",
                         orders="order_no vendor ordered_on\nP1 north 2026-01-08",
                         order_lines="order_no part qty_pcs unit_price\nP1 coil 2 18")
        assert [(job, coming, by is not None) for job, coming, by in found] == [
            ("R1", 0, False), ("B1", 1, False), ("B2", 1, True)]

    def test_nobody_sells_it(self):
        offers = "vendor part pack_price quoted_on\nnorth lamp 0.3 2025-06-01"
        assert [by for (by,) in lines_of("coil", "order_by_on", offers=offers)] == [None] * 3


def test_a_stand_in_is_named_with_its_condition_and_shelf():
    found = lines_of("coil", "job", "substitute", "condition", "substitute_shelf",
                     interchange="part can_replace condition\nother coil lug_bent",
                     counts=BASE["counts"].replace("other 2026-01-01 0", "other 2026-01-01 2"))
    assert found == [["R1", None, None, None], ["B1", "other", "lug_bent", "B4"],
                     ["B2", "other (1 of 2)", "lug_bent", "B4"]]


def test_a_companion_stands_behind_its_part_and_is_still_to_come_where_the_part_is_fitted():
    fitted = f"{BASE['job_parts']}\nR1 coil 2 2025-12-20\nR1 sleeve 1 2025-12-20"
    found = made(companions="trigger_part adds_part\ncoil sleeve", job_parts=fitted).lines
    assert found[["job", "part", "need_pcs", "with_part"]].fillna("").values.tolist() == [
        ["R1", "sleeve", 1, "coil"], ["B1", "coil", 2, ""], ["B1", "sleeve", 2, "coil"], ["B2", "coil", 2, ""],
        ["B2", "sleeve", 2, "coil"]]


def test_unknown_stock_is_not_zero():
    counts = BASE["counts"].replace("coil 2026-01-01 3\n", "")
    assert lines_of("coil", "on_shelf_pcs", "short_pcs", "order_by_on", counts=counts) == [[None, None, None]] * 3


def test_an_enquiry_a_delivered_and_a_declined_job_are_not_picked_for():
    jobs = BASE["jobs"].replace("delivered_on\n", "delivered_on status\n", 1).replace("-25\n", "-25 -\n")
    jobs = jobs.replace("2025-12-05 -", "2025-12-05 - -").replace("2026-02-10 - -", "2026-02-10 - - enquiry")
    jobs = jobs.replace("2026-01-20 - -", "2026-01-20 - - declined")
    assert set(made(jobs=jobs).lines["job"]) == {"R1"}


def test_a_shop_without_open_jobs_has_an_empty_list():
    jobs = "\n".join(BASE["jobs"].splitlines()[:13])
    found = pick_list.table(made(jobs=jobs, findings="job assembly part\nD1 flip coil"))
    assert list(found) == pick_list.COLUMNS and found.empty


def test_three_files_make_a_list_of_the_unknown():
    with hand_shop.store(**{name: BASE[name] for name in ("families", "parts", "jobs", "job_parts")}) as connection:
        found = pick_list.table(pick_list.make(order_plan.make(connection), connection))
    assert set(found["part"]) == {"lamp"} and found["on_shelf_pcs"].isna().all() and len(found) == 3
