//! Windows and calendars against the days of a year, counted one by one.

mod common;

use chrono::{Datelike, NaiveDate};
use common::{Numbers, closed, day, limited, span, yearly};
use season::{Days, MonthDay, SeasonError, Span, When, calendar, next_opening};
use tract::{GroundState, Operation, Permission};

const HARVEST: Operation = Operation::Harvest;

#[test]
fn a_window_over_new_year_is_one_closure_and_not_two() {
    let winter = closed("winter", yearly("11-15", "03-31"));
    let two_winters = calendar(span("2026-07-01", "2028-06-30"), HARVEST, &[&winter]).unwrap();
    assert_eq!(
        two_winters.closed(),
        [span("2026-11-15", "2027-03-31"), span("2027-11-15", "2028-03-31")]
    );
    // 16 + 31 + 31 + 28 + 31 days, and one more in the leap year.
    assert_eq!(two_winters.closed().iter().map(|span| span.days()).collect::<Vec<_>>(), [137, 138]);
}

#[test]
fn a_calendar_that_begins_in_a_window_over_new_year_begins_closed() {
    let winter = closed("winter", yearly("11-15", "03-31"));
    let year = calendar(Span::years(2027, 2027).unwrap(), HARVEST, &[&winter]).unwrap();
    assert_eq!(year.state(day("2027-01-01")), Some(GroundState::Closed));
    assert_eq!(year.workable(), [span("2027-04-01", "2027-11-14")]);
    assert_eq!(year.state(day("2028-01-01")), None);
}

#[test]
fn february_29_is_the_last_day_of_february_or_the_first_of_march() {
    let until = yearly("01-10", "02-29");
    let since = yearly("02-29", "04-10");
    let ends = |year| until.spans(Span::years(year, year).unwrap())[0].to();
    let begins = |year| since.spans(Span::years(year, year).unwrap())[0].from();
    assert_eq!([ends(2027), ends(2028)], [day("2027-02-28"), day("2028-02-29")]);
    assert_eq!([begins(2027), begins(2028)], [day("2027-03-01"), day("2028-02-29")]);
    // 1900 and 2100 are no leap years, 2000 is one (Gregorian rule).
    assert_eq!([ends(1900), ends(2000), ends(2100)].map(|date| date.day()), [28, 29, 28]);
}

#[test]
fn a_window_of_february_29_alone_holds_in_leap_years_only() {
    let leap_day = yearly("02-29", "02-29");
    let spans = leap_day.spans(Span::years(2025, 2033).unwrap());
    assert_eq!(spans, [span("2028-02-29", "2028-02-29"), span("2032-02-29", "2032-02-29")]);
}

#[test]
fn a_window_up_to_the_day_before_it_begins_is_all_of_every_year() {
    for (from, to) in [("03-01", "02-29"), ("02-29", "02-28"), ("07-01", "06-30")] {
        let whole = closed("whole", yearly(from, to));
        let years = calendar(Span::years(2023, 2029).unwrap(), HARVEST, &[&whole]).unwrap();
        assert_eq!(years.runs().len(), 1, "{from} to {to}");
        assert_eq!(years.days().workable(), 0);
        assert_eq!(next_opening(HARVEST, &[&whole], day("2027-01-01")), None);
    }
}

#[test]
fn days_of_the_year_are_read_as_two_digits_each() {
    for wrong in ["2-9", "02-30", "13-01", "00-10", "02-00", "+2-10", "0229", "02-29 ", ""] {
        let found = wrong.parse::<MonthDay>();
        assert_eq!(found, Err(SeasonError::NotADay { text: wrong.into() }), "{wrong}");
    }
    assert_eq!("02-29".parse::<MonthDay>().map(|day| day.to_string()), Ok("02-29".into()));
}

#[test]
fn spans_end_after_they_begin_and_stay_in_years_of_four_digits() {
    let (early, late) = (day("2027-05-01"), day("2027-05-02"));
    assert_eq!(Span::new(late, early), Err(SeasonError::Reversed { from: late, to: early }));
    assert_eq!(Span::new(early, early).map(Span::days), Ok(1));
    for far in [NaiveDate::MAX, NaiveDate::MIN] {
        let one = Span::new(early.min(far), early.max(far));
        assert_eq!(one, Err(SeasonError::FarYear { date: far }));
    }
    assert!(matches!(Span::years(2027, i32::MAX), Err(SeasonError::FarYear { .. })));
    let long = Span::years(1900, 2000).unwrap();
    assert!(matches!(calendar(long, HARVEST, &[]), Err(SeasonError::TooLong { .. })));
    assert!(calendar(Span::years(1901, 2000).unwrap(), HARVEST, &[]).is_ok());
}

#[test]
fn two_overlapping_sites_close_the_days_of_both_and_give_both_reasons() {
    let eagle = closed("eagle", yearly("01-15", "08-31"));
    let owl = closed("owl", yearly("03-01", "09-30"));
    let year = calendar(Span::years(2027, 2027).unwrap(), HARVEST, &[&eagle, &owl]).unwrap();
    assert_eq!(year.closed(), [span("2027-01-15", "2027-09-30")]);
    let because = |date: &str| {
        let run = year.on(day(date)).unwrap();
        run.because.iter().map(|closure| closure.id.as_str()).collect::<Vec<_>>()
    };
    assert_eq!(because("2027-02-28"), ["eagle"]);
    assert_eq!(because("2027-03-01"), ["eagle", "owl"]);
    assert_eq!(because("2027-08-31"), ["eagle", "owl"]);
    assert_eq!(because("2027-09-01"), ["owl"]);
    assert_eq!(because("2027-10-01"), [""; 0]);
    assert_eq!(next_opening(HARVEST, &[&eagle, &owl], day("2027-01-20")), Some(day("2027-10-01")));
}

#[test]
fn conditions_of_two_sites_are_both_kept_and_closed_is_stricter() {
    let quiet = limited("owl", yearly("02-01", "07-09"), "no noise");
    let hand = limited("burrow", yearly("04-01", "10-31"), "by hand");
    let nest = closed("nest", When::Once(span("2027-05-01", "2027-05-31")));
    let year =
        calendar(Span::years(2027, 2027).unwrap(), HARVEST, &[&quiet, &hand, &nest]).unwrap();
    let said = |date: &str| year.on(day(date)).unwrap().permission.to_string();
    assert_eq!(said("2027-04-01"), "limited: by hand; no noise");
    assert_eq!(said("2027-05-31"), "closed");
    assert_eq!(said("2027-07-10"), "limited: by hand");
    assert_eq!(year.days(), Days { open: 31 + 61, limited: 273 - 31, closed: 31 });
}

#[test]
fn other_operations_stay_open_and_what_holds_all_year_never_opens() {
    let nest = closed("nest", yearly("02-01", "07-31"));
    let strip = closed("strip", When::AllYear);
    let year = Span::years(2027, 2027).unwrap();
    assert_eq!(calendar(year, Operation::Burn, &[&nest, &strip]).unwrap().days().open, 365);
    assert_eq!(calendar(year, HARVEST, &[&nest, &strip]).unwrap().days().closed, 365);
    assert_eq!(next_opening(HARVEST, &[&nest, &strip], day("2027-01-01")), None);
}

#[test]
fn the_months_of_a_year_have_its_days() {
    let nest = closed("nest", yearly("02-10", "04-05"));
    let months = calendar(span("2028-01-20", "2028-05-10"), HARVEST, &[&nest]).unwrap().months();
    let rows: Vec<_> =
        months.iter().map(|m| (m.year, m.month, m.days.open, m.days.closed)).collect();
    assert_eq!(
        rows,
        [(2028, 1, 12, 0), (2028, 2, 9, 20), (2028, 3, 0, 31), (2028, 4, 25, 5), (2028, 5, 10, 0)]
    );
}

#[test]
fn the_next_opening_lies_beyond_a_one_off_closing_of_many_years() {
    let sale = closed("sale", When::Once(span("2027-01-01", "2061-06-30")));
    let nest = closed("nest", yearly("07-01", "07-31"));
    assert_eq!(next_opening(HARVEST, &[&sale, &nest], day("2027-01-01")), Some(day("2061-08-01")));
}

/// A day as text decides whether it is in a window: the slow way, by the words of the rule.
fn holds_by_words(from: &str, to: &str, date: NaiveDate) -> bool {
    let today = date.format("%m-%d").to_string();
    let today = today.as_str();
    if from <= to { from <= today && today <= to } else { today >= from || today <= to }
}

#[test]
fn calendars_agree_with_a_count_day_by_day() {
    let mut numbers = Numbers(20_271_231);
    let leap_year: Vec<String> = (day("2028-01-01").iter_days().take(366))
        .map(|date| date.format("%m-%d").to_string())
        .collect();
    for _ in 0..300 {
        let mut pick = || leap_year[numbers.below(366) as usize].as_str();
        let windows = [(pick(), pick()), (pick(), pick()), ("02-29", pick()), (pick(), "02-29")];
        let closures = [
            closed("one", yearly(windows[0].0, windows[0].1)),
            limited("two", yearly(windows[1].0, windows[1].1), "dry"),
            closed("three", yearly(windows[2].0, windows[2].1)),
            limited("four", yearly(windows[3].0, windows[3].1), "frozen"),
        ];
        let all: Vec<_> = closures.iter().collect();
        let years = span("2026-03-07", "2029-01-20");
        let made = calendar(years, HARVEST, &all).unwrap();
        let mut open_run = (0, day("2026-03-07"));
        let mut longest = (0, None);
        let mut days = Days::default();
        let mut next = years.from();
        for run in made.runs() {
            assert_eq!(run.span.from(), next, "runs follow each other");
            next = run.span.to().succ_opt().unwrap();
        }
        assert_eq!(next, day("2029-01-21"));
        for date in years.from().iter_days().take(years.days() as usize) {
            let holds: Vec<bool> =
                windows.iter().map(|(from, to)| holds_by_words(from, to, date)).collect();
            let run = made.on(date).unwrap();
            let names: Vec<&str> = run.because.iter().map(|c| c.id.as_str()).collect();
            let expected: Vec<&str> = ["one", "two", "three", "four"]
                .into_iter()
                .zip(&holds)
                .filter_map(|(name, holds)| holds.then_some(name))
                .collect();
            assert_eq!(names, expected, "{date} in {windows:?}");
            match (holds[0] || holds[2], holds[1] || holds[3]) {
                (true, _) => days.closed += 1,
                (false, true) => days.limited += 1,
                (false, false) => days.open += 1,
            }
            let is_closed = holds[0] || holds[2];
            assert_eq!(run.permission == Permission::Closed, is_closed);
            open_run = match (is_closed, open_run.0) {
                (true, _) => (0, date),
                (false, 0) => (1, date),
                (false, length) => (length + 1, open_run.1),
            };
            if open_run.0 > longest.0 {
                longest = (open_run.0, Some(open_run.1));
            }
        }
        assert_eq!(made.days(), days);
        let found = made.longest_workable();
        assert_eq!(found.map(Span::from), longest.1);
        assert_eq!(found.map_or(0, Span::days), longest.0);
        let months = made.months();
        assert_eq!(months.len(), 35);
        let total = |of: fn(&Days) -> u32| months.iter().map(|m| of(&m.days)).sum::<u32>();
        assert_eq!(total(|d| d.open), days.open);
        assert_eq!(total(|d| d.closed), days.closed);
        // The first and the last workable day of a part, and the next one after a day.
        let part = span("2027-02-01", "2027-06-30");
        let free = |date: &NaiveDate| made.state(*date) != Some(GroundState::Closed);
        let scan: Vec<NaiveDate> = part.from().iter_days().take(150).filter(free).collect();
        assert_eq!(made.first_workable(part), scan.first().copied());
        assert_eq!(made.last_workable(part), scan.last().copied());
        let after = years.from().iter_days().skip(200).take(years.days() as usize - 200).find(free);
        assert_eq!(made.next_workable(years.from() + chrono::Days::new(199)), after);
    }
}

#[test]
fn work_that_needs_days_in_a_row_waits_for_the_first_gap_that_is_long_enough() {
    let spring = closed("spring", yearly("03-01", "06-30"));
    let fall = closed("fall", yearly("07-15", "09-01"));
    let year = calendar(Span::years(2027, 2027).unwrap(), HARVEST, &[&spring, &fall]).unwrap();
    let next = |days| year.next_free(day("2027-03-10"), days);
    // July 1 to July 14 are 14 days.
    assert_eq!(next(14), Some(day("2027-07-01")));
    assert_eq!(next(15), Some(day("2027-09-02")));
    assert_eq!(next(122), None);
}
