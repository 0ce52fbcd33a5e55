//! How long a plan takes: `cargo bench --bench plan`.
//!
//! The farm is the first demonstration farm with all its segments listed out, cut to so many options.
//! Every figure is the best of several runs, in milliseconds, over 4,096 draws, the preparing of the
//! draws left out.

use std::time::Instant;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, read_walk};
use underfoot::reckon::plan::{PlanRequest, best_set, plan};
use underfoot::reckon::{Prepared, RankBy, Settings, prepare};

fn best_of<T>(runs: usize, mut work: impl FnMut() -> T) -> (f64, Option<T>) {
    let mut best = (f64::INFINITY, None);
    for _ in 0..runs {
        let start = Instant::now();
        let done = work();
        let ms = 1e3 * start.elapsed().as_secs_f64();
        if ms < best.0 {
            best = (ms, Some(done));
        }
    }
    best
}

/// The farm with every `step`-th of its options that has a price, `n` in all.
fn cut<'a>(whole: &Prepared<'a>, n: usize) -> Prepared<'a> {
    let mut farm = whole.clone();
    farm.options.retain(|option| option.cost.mean_capital().is_some());
    let all = farm.options.len();
    let mut place = 0;
    farm.options.retain(|_| {
        let keep = place * n / all != (place + 1) * n / all;
        place += 1;
        keep
    });
    farm
}

fn main() {
    let mut findings = Findings::new();
    let text = SourceText::new("walk.yaml", include_str!("../examples/01-heronsway/walk.yaml"));
    let (library, walk) = read_walk(&text, &FileSet::builtin(), &mut findings).expect("the demo reads");
    println!(
        "{:<12} {:>7} {:>9} {:>10} {:>7} {:>12} {:>7}",
        "measure", "options", "budget", "best set", "exact", "with frontier", "steps"
    );
    for rank_by in RankBy::ALL {
        let settings = Settings { rank_by, ..Settings::default() };
        let whole = prepare(&library, &walk, settings).expect("the demo is reckoned");
        for n in [10, 20, 30, whole.options.len()] {
            let farm = cut(&whole, n);
            let total: f64 = farm.options.iter().filter_map(|option| option.cost.mean_capital()).sum();
            for share in [0.15, 0.4, 0.8] {
                let budget = share * total;
                let request = PlanRequest { budget: Some(budget), ..Default::default() };
                let (alone, _) = best_of(3, || best_set(&farm, &request));
                let (ms, planned) = best_of(1, || plan(&farm, &request));
                let Some(Ok(planned)) = planned else { continue };
                println!(
                    "{:<12} {:>7} {:>8.0}% {:>10.1} {:>7} {:>12.1} {:>7}{}",
                    rank_by.id(),
                    farm.options.len(),
                    100.0 * share,
                    alone,
                    if planned.exact { "yes".to_owned() } else { format!("{:.1}%", 100.0 * planned.gap) },
                    ms,
                    planned.frontier.len(),
                    if planned.frontier_exact { "" } else { " (sampled)" },
                );
            }
        }
    }
}
