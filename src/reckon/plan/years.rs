//! A plan year by year: cash, and lame cows to expect while the changes take hold.
//!
//! Each option counts from its own week on; while only some do, the set of those is reckoned as a
//! set. Capital is spent at the start and again whenever an option's life is over within the table;
//! running costs and savings fall at the end of each year and are discounted from there.

use super::super::Estimate;
use super::super::interventions::Gain;
use super::super::prices::discount_rate;
use super::super::stats::summary::mean;
use super::Prepared;

/// Weeks in a year.
const WEEKS_A_YEAR: f64 = 365.25 / 7.0;

/// One year of a plan; year 0 is the day the work is paid for.
#[derive(Clone, Debug, PartialEq)]
pub struct Year {
    /// 0, 1, 2, …
    pub year: u32,
    /// Capital, in year 0 and where an option has to be done again.
    pub capital: f64,
    /// Running costs.
    pub running: f64,
    /// Saved; `None` where costs per case are withheld.
    pub saved: Option<f64>,
    /// Saved less all costs.
    pub cash: Option<f64>,
    /// The same added up from year 0.
    pub cash_to_date: Option<f64>,
    /// The same with each year discounted to year 0.
    pub discounted_to_date: Option<f64>,
    /// New cases to expect with the plan; `None` in year 0.
    pub cases: Option<Estimate>,
}

/// A plan over the years.
#[derive(Clone, Debug, PartialEq)]
pub struct Years {
    /// Year 0 and those after it.
    pub years: Vec<Year>,
    /// New cases a year without the plan.
    pub cases_without: Estimate,
    /// Yearly discount rate, 0–1.
    pub discount_rate: f64,
    /// Options whose weeks to effect nobody gave: counted from the first day.
    pub weeks_unknown: Vec<usize>,
}

/// A set of options over so many years.
pub fn years(prepared: &Prepared, chosen: &[usize], horizon: u32) -> Years {
    let phases = phases(prepared, chosen);
    let rate = discount_rate(prepared.library, prepared.walk);
    let setting = &prepared.setting;
    let without: Vec<f64> =
        setting.rates.rate_per_100_cow_years.iter().map(|rate| setting.hundred_cows * rate).collect();
    let priced = || chosen.iter().map(|&option| (option, &prepared.options[option].cost));
    let running: f64 = priced().filter_map(|(_, cost)| cost.running_draws()).map(|draws| mean(draws)).sum();
    let mut to_date = (0.0, 0.0);
    let mut discount = 1.0;
    let mut rows = Vec::new();
    for year in 0..=horizon {
        let capital: f64 = priced()
            .map(|(option, cost)| {
                let life = prepared.library.interventions[prepared.options[option].intervention].life_years;
                cost.mean_capital().unwrap_or(0.0) * times_paid(life, year, horizon)
            })
            .sum();
        let running = if year == 0 { 0.0 } else { running };
        let gain = (year > 0).then(|| in_year(&phases, year, without.len()));
        let saved = match &gain {
            None => setting.case_costs.draws().map(|_| 0.0),
            Some(gain) => gain.saved.as_ref().map(|saved| mean(saved)),
        };
        let cash = saved.map(|saved| saved - capital - running);
        to_date = (to_date.0 + cash.unwrap_or(0.0), to_date.1 + discount * cash.unwrap_or(0.0));
        discount /= 1.0 + rate;
        rows.push(Year {
            year,
            capital,
            running,
            saved,
            cash,
            cash_to_date: cash.map(|_| to_date.0),
            discounted_to_date: cash.map(|_| to_date.1),
            cases: gain.map(|gain| {
                Estimate::of(without.iter().zip(&gain.cases).map(|(before, fewer)| before - fewer).collect())
            }),
        });
    }
    Years {
        years: rows,
        discount_rate: rate,
        weeks_unknown: chosen.iter().copied().filter(|&option| weeks(prepared, option).is_none()).collect(),
        cases_without: Estimate::of(without),
    }
}

fn weeks(prepared: &Prepared, option: usize) -> Option<f64> {
    prepared.library.interventions[prepared.options[option].intervention].weeks_to_effect
}

/// How often the capital of an option is paid in a year: once in year 0, then each time its life is
/// over before the end of the table.
fn times_paid(life_years: f64, year: u32, horizon: u32) -> f64 {
    if year == 0 {
        return 1.0;
    }
    let over_by = |year: u32| {
        let over = libm::floor(f64::from(year) / life_years);
        // What is over just as the table ends is paid by the years after it.
        if year == horizon && over * life_years >= f64::from(year) { over - 1.0 } else { over }
    };
    (over_by(year) - over_by(year - 1)).max(0.0)
}

/// From which week on which gain holds, first to last.
fn phases(prepared: &Prepared, chosen: &[usize]) -> Vec<(f64, Gain)> {
    let from = |option: usize| weeks(prepared, option).unwrap_or(0.0);
    let mut starts: Vec<f64> = chosen.iter().map(|&option| from(option)).collect();
    starts.sort_by(f64::total_cmp);
    starts.dedup();
    let phase = |start: f64| {
        let working: Vec<usize> = chosen.iter().copied().filter(|&option| from(option) <= start).collect();
        (start, prepared.set_gain(&working))
    };
    starts.into_iter().map(phase).collect()
}

/// What holds in a year: each phase by its share of it.
fn in_year(phases: &[(f64, Gain)], year: u32, draws: usize) -> Gain {
    let (start, end) = (f64::from(year - 1) * WEEKS_A_YEAR, f64::from(year) * WEEKS_A_YEAR);
    let money = phases.iter().all(|(_, gain)| gain.saved.is_some());
    let mut total =
        Gain { cases: vec![0.0; draws], lame_days: vec![0.0; draws], saved: money.then(|| vec![0.0; draws]) };
    for (place, (from, gain)) in phases.iter().enumerate() {
        let until = phases.get(place + 1).map_or(f64::INFINITY, |(next, _)| *next);
        let share = (until.min(end) - from.max(start)).max(0.0) / WEEKS_A_YEAR;
        let add = |into: &mut [f64], what: &[f64]| {
            into.iter_mut().zip(what).for_each(|(into, what)| *into += share * what);
        };
        add(&mut total.cases, &gain.cases);
        add(&mut total.lame_days, &gain.lame_days);
        if let (Some(into), Some(saved)) = (&mut total.saved, &gain.saved) {
            add(into, saved);
        }
    }
    total
}
