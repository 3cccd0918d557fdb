"""Days fit for work: the published table, shares by day, a grower's own record."""

import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fieldgeo.errors import FaultyInputError, FileError, InputError
from fieldgeo.machinery.tables import Source
from fieldgeo.report.season_weather_text import weather_lines, weather_notes
from fieldgeo.season.dated_loss import loss_curve, loss_curves
from fieldgeo.season.fit_days import FitPeriod, YearDay, read_year_day, season_days, shares_on
from fieldgeo.season.fit_history import history_of, read_history
from fieldgeo.season.model import Regime
from fieldgeo.season.weather import climate_for, climate_of, fit_hours, weather_on
from fieldgeo.season.weather_figures import weather_figures
from fieldgeo.season.wet_spells import chain_of, draw_seasons
from fieldgeo.season.working_days import (
    published_exceedances,
    published_periods,
    regions,
    working_days,
)

GIVEN = Source(text="given", status="read")


def period(first: str, last: str, share: float) -> FitPeriod:
    return FitPeriod(first=read_year_day(first), last=read_year_day(last), share=share, source=GIVEN)


def test_share_of_working_days_in_illinois_fefo_10_11() -> None:
    """Published: Working Field Days in Illinois, University of Illinois farmdoc, FEFO 10-11, 2010: 20 of 41 days, which
    the source calls 48 % (48.8, cut off); about 50 % in April and May, 75 % in September and October."""
    (central,) = published_periods("illinois central crop reporting district")
    assert (str(central.first), str(central.last)) == ("Apr 10", "May 20")
    assert int(100 * central.share) == 48
    assert central.source.status == "read_derived"
    spring, fall = published_periods("Illinois")
    assert (spring.share, fall.share) == (0.5, 0.75)
    assert not spring.source.is_recalled


def test_days_of_iowa_a3_25() -> None:
    """Published: Fieldwork Days in Iowa, Iowa State University AgDM A3-25, 2014: 4.0 and 4.3 days of two weeks, Apr 30
    to May 13, give 8.3, so that 1,600 acres ask for 192.8 ac a day, and 13.8 ac an hour in days of 14 hours."""
    weeks = [period("Apr 30", "May 6", 4.0 / 7), period("May 7", "May 13", 4.3 / 7)]
    weather = weather_on(climate_of(periods=weeks), season_days(date(2026, 4, 30), date(2026, 5, 13)))
    assert weather.mean_days == pytest.approx(8.3)
    assert 1600 / weather.mean_days == pytest.approx(192.8, abs=0.05)
    assert 1600 / fit_hours(weather, 14).sum() == pytest.approx(13.8, abs=0.05)


def test_share_of_iowa_agdm_march_2020() -> None:
    """Published: The number of days suitable for fieldwork in Iowa is shrinking, Iowa State University Extension, 2020:
    48 days in 1964 and 35 of 77 in 2019; the later one is used."""
    (iowa,) = published_periods("Iowa statewide")
    assert iowa.share == pytest.approx(35 / 77)


def test_every_row_has_a_source_and_recalled_rows_carry_their_flag() -> None:
    assert all(row["source"] and row["status"] for row in working_days())
    recalled = published_periods("central Illinois")
    assert len(recalled) == 11
    assert all(one.source.status == "memory_low" and "real doubt" in one.source.citation for one in recalled)
    assert [one.last.number + 1 for one in recalled[:5]] == [one.first.number for one in recalled[1:6]]  # no gap


def test_exceedances_of_missouri_g362() -> None:
    """Published: Days Suitable for Fieldwork in Missouri, University of Missouri Extension G362, two revisions."""
    found = [(one.first, one.last, one.days, one.at_least, one.chance) for one in published_exceedances()]
    assert found == [("Apr 1", "May 31", 61, 35, 0.3), ("Apr 1", "Jun 10", 71, 35, 0.6)]


def test_region_that_is_not_in_the_table_is_refused_with_those_that_are() -> None:
    with pytest.raises(InputError, match=r"got region 'Indiana'. The table has Illinois central crop"):
        published_periods("Indiana")
    with pytest.raises(InputError, match="other figures of it, but no share"):
        published_periods("Missouri")
    with pytest.raises(InputError, match=r"no rows of kind 'days_per_week'. It has probability"):
        published_periods("Illinois", kind="days_per_week")
    assert "Illinois" in regions()
    assert "Missouri" not in regions()


def test_share_between_two_periods_runs_straight_and_is_counted() -> None:
    # derived: from 0.5 on Apr 10 to 0.9 on Apr 14: 0.6, 0.7 and 0.8 between
    known = (period("Apr 1", "Apr 10", 0.5), period("Apr 14", "Apr 20", 0.9))
    days = season_days(date(2026, 4, 9), date(2026, 4, 15))
    shares = shares_on(known, days)
    assert shares.share == pytest.approx([0.5, 0.5, 0.6, 0.7, 0.8, 0.9, 0.9])
    assert (shares.between_days, shares.beyond_days) == (3, 0)
    assert shares.used == known
    with pytest.raises(InputError, match="3 of 7 days, Apr 11 to Apr 13"):
        shares_on(known, days, between=False)


def test_days_beyond_all_periods_are_refused_or_held() -> None:
    known = (period("Apr 10", "May 20", 0.5),)
    days = season_days(date(2026, 4, 8), date(2026, 5, 22))
    with pytest.raises(InputError, match=r"4 of 45 days, Apr 8 to Apr 9, May 21 to May 22. Periods known: Apr 10 to"):
        shares_on(known, days)
    held = shares_on(known, days, beyond=True)
    assert set(held.share) == {0.5}
    assert held.beyond_days == 4
    assert held.used == known


def test_first_period_counts_where_two_hold_a_day() -> None:
    own = period("Apr 15", "Apr 16", 0.2)
    climate = climate_of(region="Illinois", periods=[own])
    weather = weather_on(climate, season_days(date(2026, 4, 14), date(2026, 4, 17)))
    assert weather.shares.share == pytest.approx([0.5, 0.2, 0.2, 0.5])


@pytest.mark.parametrize("text", ["Apr 10", "april 10", "10 Apr", "04-10", "2026-04-10", "10-Apr"])
def test_day_of_the_year_as_written(text: str) -> None:
    assert read_year_day(text) == YearDay(4, 10)


@pytest.mark.parametrize("text", ["", "Apr", "Apr 31", "13-40", "ten April", "Apr 10 May", "4"])
def test_what_is_no_day_of_the_year_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="must be a day such as"):
        read_year_day(text)


def test_leap_day_stands_with_the_day_before() -> None:
    assert YearDay(2, 29).number == YearDay(2, 28).number
    assert YearDay(12, 31).number == 365


def test_periods_and_days_that_cannot_be() -> None:
    with pytest.raises(InputError, match="Nov 1 to Mar 1"):
        period("Nov 1", "Mar 1", 0.5)
    with pytest.raises(InputError, match=r"the share is 1\.2"):
        period("Apr 1", "May 1", 1.2)
    with pytest.raises(InputError, match="must be from 1 to 366 days"):
        season_days(date(2026, 5, 1), date(2026, 4, 1))
    with pytest.raises(InputError, match="no period"):
        climate_of()
    with pytest.raises(InputError, match="follow each other"):
        weather_on(climate_of(share=0.5), [date(2026, 4, 1), date(2026, 4, 3)])


def drawn_history(persistence: float, years: int, share: float = 0.5) -> dict[date, bool]:
    days = season_days(date(2001, 4, 1), date(2001, 10, 31))
    fit = draw_seasons(chain_of([share] * len(days), persistence), years, seed=5)
    return {day.replace(year=2001 + year): bool(fit[year, at]) for year in range(years) for at, day in enumerate(days)}


@pytest.mark.parametrize("persistence", [0.0, 0.5])
def test_record_gives_back_share_and_persistence_it_was_drawn_with(persistence: float) -> None:
    # derived: drawn with a share of 0.5, 20 years of 214 days
    history = history_of(drawn_history(persistence, 20))
    assert history.days == 20 * 214
    assert history.pairs == 20 * 213
    assert np.mean([week.share for week in history.weeks]) == pytest.approx(0.5, abs=0.03)
    assert history.correlation == pytest.approx(persistence, abs=0.05)
    fit_after = [fit / number for number, fit in (history.after_fit, history.after_unfit)]
    assert fit_after[0] - fit_after[1] == pytest.approx(persistence, abs=0.06)
    assert history.notes == ()


def test_record_is_counted_by_week_by_hand() -> None:
    # derived: Jan 1 to 7 fit on 3 of 7 days, Jan 8 to 10 fit on none
    start = date(2025, 1, 1)
    fit = {start + timedelta(days=number): number < 3 for number in range(10)}
    history = history_of(fit, name="days.csv")
    assert [(week.days, week.fit, str(week.first)) for week in history.weeks] == [(7, 3, "Jan 1"), (3, 0, "Jan 8")]
    assert history.after_fit == (3, 2)
    assert history.after_unfit == (6, 0)
    assert history.source.text == "days.csv: 10 days of 1 year, 2025"
    assert any("has 1 year;" in note for note in history.notes)
    assert any("9 pairs" in note for note in history.notes)


def test_persistence_of_the_record_counts_before_the_assumed_one() -> None:
    history = history_of(drawn_history(0.3, 10), name="days.csv")
    climate = climate_of(history=history)
    assert climate.persistence == history.correlation
    assert "2,130 pairs of days of days.csv" in climate.persistence_source
    assert not climate.is_persistence_assumed
    assert climate_of(share=0.4).is_persistence_assumed
    assert climate_of(history=history, persistence=0.1).persistence == 0.1


def test_record_stands_with_its_counts() -> None:
    history = history_of(drawn_history(0.3, 10), name="days.csv")
    figures = weather_figures(
        weather_on(climate_of(history=history), season_days(date(2026, 4, 2), date(2026, 10, 28)))
    )
    json.dumps(figures, allow_nan=False)
    assert figures["history"]["years"] == list(range(2001, 2011))
    assert sum(week["days"] for week in figures["history"]["weeks"]) == figures["history"]["days"] == 2140
    text = " ".join(" ".join(weather_lines(figures)).split())
    assert "own record 2,140 days of 10 years, 2001 to 2010; fit after a fit day 6" in text
    assert any("days.csv: 2,140 days of 10 years" in note for note in weather_notes(figures))


def test_record_from_a_file_by_fit_and_by_hours(tmp_path: Path) -> None:
    words = tmp_path / "fit.csv"
    words.write_text("Date,Fit\n2024-04-01,yes\n2024-04-02,no\n2024-04-03,1\n", encoding="utf-8")
    assert [(week.days, week.fit) for week in read_history(words).weeks] == [(1, 1), (2, 1)]
    hours = tmp_path / "hours.csv"
    hours.write_text("when,worked\n2024-04-02,0\n2024-04-03,4.9\n2024-04-04,5\n", encoding="utf-8")
    history = read_history(hours, date_column="when", hours_column="worked")
    assert [(week.days, week.fit) for week in history.weeks] == [(3, 1)]
    assert history.notes[0] == "a day is fit from 5 h up"


def test_every_fault_of_a_record_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "days.csv"
    path.write_text("date,fit\n2024-04-31,yes\n2024-04-01,maybe\n2024-04-02,yes\n2024-04-02,no\n", encoding="utf-8")
    with pytest.raises(FaultyInputError) as error:
        read_history(path)
    assert len(error.value.problems) == 3
    assert "line 2: got date '2024-04-31'" in error.value.problems[0]
    assert "must be yes or no" in error.value.problems[1]
    assert "there twice" in error.value.problems[2]
    path.write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(FaultyInputError, match="Its columns: 'a', 'b'"):
        read_history(path)
    path.write_text("", encoding="utf-8")
    with pytest.raises(FaultyInputError, match="Its columns: none"):
        read_history(path)
    with pytest.raises(FileError, match="cannot be read"):
        read_history(tmp_path / "none.csv")


def test_climate_of_a_season_file(tmp_path: Path) -> None:
    days = season_days(date(2026, 4, 1), date(2026, 5, 31))
    table = weather_on(climate_for(Regime(region="Illinois")), days)
    assert table.mean_days == pytest.approx(30.5)
    assert any("persistence 0.5 is assumed" in note for note in table.notes())
    own = climate_for(Regime(shares=((date(2026, 4, 10), date(2026, 4, 20), 0.4),), persistence=0.2))
    held = weather_on(own, days)
    assert held.mean_days == pytest.approx(61 * 0.4)
    assert any("50 of 61 days lie before or after" in note for note in held.notes())
    (tmp_path / "days.csv").write_text("date,fit\n2024-04-01,yes\n2024-05-31,no\n", encoding="utf-8")
    record = weather_on(climate_for(Regime(history="days.csv"), folder=tmp_path), days)
    assert record.shares.between_days > 0
    recalled = weather_on(climate_for(Regime(region="central Illinois")), days)
    assert any("recalled from memory with real doubt" in note for note in recalled.notes())


def test_fit_hours_in_the_mean_and_at_a_chance() -> None:
    weather = weather_on(climate_of(share=0.5, persistence=0.0), season_days(date(2026, 4, 1), date(2026, 5, 10)))
    assert fit_hours(weather, 10).sum() == pytest.approx(200)
    assert fit_hours(weather, 10, level=0.5).sum() == pytest.approx(200)  # an even spread: the middle is the mean
    # derived: 40 days at 0.5 are normal to a good share with a deviation of sqrt(10); 0.8416 of it below the mean
    assert fit_hours(weather, 10, level=0.8).sum() == pytest.approx(10 * (20 - 0.8416 * 10**0.5), abs=1.0)
    halves = fit_hours(weather, 10, level=0.8, begins=[date(2026, 4, 21)])
    assert halves.sum() == pytest.approx(20 * (10 - 0.8416 * 5**0.5), abs=1.0)
    off = np.where([day.weekday() == 6 for day in weather.days], 0.0, 10.0)
    assert not fit_hours(weather, off)[off == 0].any()


def test_fit_hours_that_cannot_be() -> None:
    weather = weather_on(climate_of(share=0.5), season_days(date(2026, 4, 1), date(2026, 4, 10)))
    with pytest.raises(InputError, match="from 0 to 24"):
        fit_hours(weather, 25)
    with pytest.raises(InputError, match="above 0 and below 1"):
        fit_hours(weather, 10, level=1.0)
    with pytest.raises(InputError, match="not a day of the season"):
        fit_hours(weather, 10, level=0.5, begins=[date(2026, 6, 1)])


def test_loss_by_planting_date_of_illinois() -> None:
    """Published: Another Look at Corn Planting Date Response, University of Illinois, trials 2007 to 2013: best near
    Apr 20, 216 bu/ac; 2, 8, 17, 29 and 49 bu/ac lost on Apr 30, May 10, 20, 30 and Jun 10. The shares are printed in
    whole per cent, so bushels agree within half of one per cent of 216, and 1.5 for June (49 of 216 is 22.7)."""
    curve = loss_curve("planting", "corn", "northern/central Illinois")
    days = [date(2026, 4, 20), date(2026, 4, 30), date(2026, 5, 10), date(2026, 5, 20), date(2026, 5, 30)]
    assert 216 * curve.loss(days) == pytest.approx([0, 2, 8, 17, 29], abs=1.31)
    assert 216 * curve.loss([date(2026, 6, 10)])[0] == pytest.approx(49, abs=1.5)
    assert not curve.source.is_recalled
    # derived: after the last row at its pace, 8 % in 11 days; never more than all of it; early work is not charged
    assert curve.loss([date(2026, 6, 21)])[0] == pytest.approx(0.30)
    assert curve.loss([date(2026, 12, 31)])[0] == 1.0
    assert curve.loss([date(2026, 4, 1)])[0] == 0.0
    assert any("1 days after its last row" in note for note in curve.notes([date(2026, 6, 21)]))


def test_loss_against_the_best_of_its_own_rows() -> None:
    """Published: Corn and Soybean Field Guide, Iowa State University IPM 0001: 97 % at 45,000 plants from Apr 20 to
    May 5, 85 % from May 15 to 25; derived: 1 - 85 / 97 on the middle of it, May 20."""
    curve = loss_curve("planting", "corn", "Iowa, 45000 plants/ac")
    assert curve.loss([date(2026, 5, 20)])[0] == pytest.approx(1 - 85 / 97)


def test_loss_curve_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(InputError, match="The table has planting corn, northern/central Illinois; "):
        loss_curve("planting", "wheat", "Ohio")
    assert loss_curve("Planting", "soybeans", "illi").region == "Illinois"
    for curve in loss_curves():
        assert list(curve.numbers) == sorted(set(curve.numbers))
        assert list(curve.losses) == sorted(curve.losses)
