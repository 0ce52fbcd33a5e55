//! What `sample` says: how many cows to score and which, how many squares to lay down; as JSON
//! (`underfoot.sample/1`) and in words.

use super::words;
use crate::model::words::Words;
use crate::reckon::sample::{
    LEVEL, MOST_SQUARES, SQUARE_M2, SamplePlans, ScoringPlan, ScoringPlans, SquaresPlan, Which,
};
use serde::Serialize;

/// The object `underfoot.sample/1`. Figures that can't be given are null.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SampleFacts {
    /// `underfoot.sample/1`.
    pub format: &'static str,
    /// `pasture` or `housed`.
    pub system: &'static str,
    /// Level of every interval and confidence.
    pub level: f64,
    /// Cows to score; null where their number was not given.
    pub cows: Option<CowFacts>,
    /// Squares to lay down.
    pub squares: SquareFacts,
}

/// Cows to score.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CowFacts {
    /// Cows that could be scored.
    pub herd: u64,
    /// Share of lame cows to expect.
    pub expected: f64,
    /// `asked`, or `herds`: the mean of scored herds of the system.
    pub expected_from: &'static str,
    /// Wanted half-width.
    pub within: f64,
    /// Cows to score to get it, and which.
    #[serde(flatten)]
    pub plan: PlanFacts,
    /// The same at other half-widths.
    pub by_precision: Vec<PrecisionFacts>,
    /// To find at least one lame cow.
    pub to_find_one: Vec<FindFacts>,
}

/// One plan of scoring.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlanFacts {
    /// Cows that the arithmetic asks for.
    pub needed: u64,
    /// Cows to score in fact.
    pub score: u64,
    /// `every-cow`, `one-in` or `from-the-last`.
    pub which: &'static str,
    /// One cow in so many; null otherwise.
    pub one_in: Option<u64>,
    /// True where the wanted half-width is more than half of what is expected.
    pub is_coarse: bool,
}

/// A plan for one half-width.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PrecisionFacts {
    /// Half-width.
    pub within: f64,
    /// The plan.
    #[serde(flatten)]
    pub plan: PlanFacts,
}

/// A plan to find at least one lame cow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FindFacts {
    /// Lame cows in the herd.
    pub lame: u64,
    /// The plan.
    #[serde(flatten)]
    pub plan: PlanFacts,
}

/// Squares to lay down.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SquareFacts {
    /// Area of one, square metres.
    pub square_m2: f64,
    /// Stones to expect on a square metre.
    pub stones_per_m2: f64,
    /// Wanted half-width, as a share of them.
    pub within: f64,
    /// Squares; null past 10,000.
    pub squares: Option<u64>,
    /// What a count would then say; null past 10,000 squares.
    pub interval_per_m2: Option<(f64, f64)>,
    /// Squares at other densities.
    pub by_density: Vec<DensityFacts>,
}

/// Squares at one density.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DensityFacts {
    /// Stones to expect on a square metre.
    pub stones_per_m2: f64,
    /// Squares; null past 10,000.
    pub squares: Option<u64>,
}

/// The facts of a plan.
pub fn sample_facts(plans: &SamplePlans) -> SampleFacts {
    let request = &plans.request;
    let density = |(density, plan): &(f64, Option<SquaresPlan>)| DensityFacts {
        stones_per_m2: *density,
        squares: plan.map(|plan| plan.squares),
    };
    SampleFacts {
        format: "underfoot.sample/1",
        system: request.system.id(),
        level: LEVEL,
        cows: plans.cows.as_ref().map(cow_facts),
        squares: SquareFacts {
            square_m2: SQUARE_M2,
            stones_per_m2: request.stones_per_m2,
            within: request.relative_half_width,
            squares: plans.squares.map(|plan| plan.squares),
            interval_per_m2: plans.squares.map(|plan| plan.interval_per_m2),
            by_density: plans.by_density.iter().map(density).collect(),
        },
    }
}

fn cow_facts(plans: &ScoringPlans) -> CowFacts {
    let (within, plan) = &plans.asked;
    let precision =
        |(within, plan): &(f64, ScoringPlan)| PrecisionFacts { within: *within, plan: plan_facts(plan) };
    let find = |(lame, plan): &(u64, ScoringPlan)| FindFacts { lame: *lame, plan: plan_facts(plan) };
    CowFacts {
        herd: plan.herd,
        expected: plans.expected,
        expected_from: if plans.expected_of_herds { "herds" } else { "asked" },
        within: *within,
        plan: plan_facts(plan),
        by_precision: plans.by_half_width.iter().map(precision).collect(),
        to_find_one: plans.to_find_one.iter().map(find).collect(),
    }
}

fn plan_facts(plan: &ScoringPlan) -> PlanFacts {
    let (which, one_in) = match plan.which {
        Which::EveryCow => ("every-cow", None),
        Which::OneIn(every) => ("one-in", Some(every)),
        Which::FromTheLast => ("from-the-last", None),
    };
    PlanFacts { needed: plan.needed, score: cows_to_score(plan), which, one_in, is_coarse: plan.is_coarse }
}

/// Cows that are scored when the plan is carried out. One in so many, from a first cow taken at
/// random, gives the rounded share, never fewer than needed.
fn cows_to_score(plan: &ScoringPlan) -> u64 {
    match plan.which {
        Which::EveryCow => plan.herd,
        Which::OneIn(every) => plan.herd.div_ceil(every.max(1)).max(plan.needed),
        Which::FromTheLast => plan.needed,
    }
}

/// Everything a template may show of a plan.
#[derive(Clone, Debug, Serialize)]
pub struct SamplePage {
    /// Cows to score; `None` where their number was not given.
    pub cows: Option<CowsText>,
    /// Squares to lay down.
    pub squares: SquaresText,
}

/// Cows to score, in words.
#[derive(Clone, Debug, Serialize)]
pub struct CowsText {
    /// The herd.
    pub herd: String,
    /// What was asked and expected.
    pub asked: String,
    /// What to do.
    pub answer: String,
    /// A warning of a coarse answer, or empty.
    pub coarse: String,
    /// True where every cow is scored because the herd is at pasture.
    pub every_at_pasture: bool,
    /// True where one cow in so many is scored.
    pub one_in: bool,
    /// Other precisions.
    pub by_precision: Vec<[String; 3]>,
    /// To find at least one lame cow.
    pub to_find_one: Vec<[String; 2]>,
}

/// Squares to lay down, in words.
#[derive(Clone, Debug, Serialize)]
pub struct SquaresText {
    /// How many, and what they would say.
    pub answer: String,
    /// What the table of densities says of its squares.
    pub table_heading: String,
    /// Other densities.
    pub by_density: Vec<[String; 3]>,
}

/// The words of a plan.
pub fn sample_page(words: &Words, plans: &SamplePlans) -> SamplePage {
    SamplePage {
        cows: plans.cows.as_ref().map(|cows| cows_text(words, plans, cows)),
        squares: squares_text(words, plans),
    }
}

fn points(words: &Words, half_width: f64) -> String {
    let points = 100.0 * half_width;
    words.say_for(points, "sample.points", &[("n", &words.trimmed(points, 3))])
}

fn cows_text(words: &Words, plans: &SamplePlans, cows: &ScoringPlans) -> CowsText {
    let (within, plan) = &cows.asked;
    let within = points(words, *within);
    let expected = words.percent(cows.expected);
    let precision = |(within, plan): &(f64, ScoringPlan)| {
        let within = words.say("sample.either-way", &[("within", &points(words, *within))]);
        [within, words.whole(plan.needed as f64), which_words(words, plan)]
    };
    let find = |(lame, plan): &(u64, ScoringPlan)| {
        let share = 100.0 * *lame as f64 / plan.herd as f64;
        let share = words.say("number.percent", &[("n", &words.decimals(share, 1))]);
        [format!("{} ({share})", words.whole(*lame as f64)), words.whole(plan.needed as f64)]
    };
    let coarse =
        plan.is_coarse.then(|| words.say("sample.coarse", &[("expected", &expected), ("within", &within)]));
    CowsText {
        herd: herd(words, plans, plan),
        asked: asked(words, plans, cows, &within),
        answer: answer(words, plan),
        coarse: coarse.unwrap_or_default(),
        every_at_pasture: plan.which == Which::EveryCow && plan.needed < plan.herd,
        one_in: matches!(plan.which, Which::OneIn(_)),
        by_precision: cows.by_half_width.iter().map(precision).collect(),
        to_find_one: cows.to_find_one.iter().map(find).collect(),
    }
}

fn herd(words: &Words, plans: &SamplePlans, plan: &ScoringPlan) -> String {
    let cows = plan.herd as f64;
    let system = words::system_words(words, plans.request.system);
    words.say_for(cows, "sample.herd", &[("n", &words.whole(cows)), ("system", &system)])
}

fn asked(words: &Words, plans: &SamplePlans, cows: &ScoringPlans, within: &str) -> String {
    let expected = words.percent(cows.expected);
    if !cows.expected_of_herds {
        return words.say("sample.asked", &[("within", within), ("expected", &expected)]);
    }
    let system = words::system_words(words, plans.request.system);
    words.say("sample.asked-of-herds", &[("within", within), ("expected", &expected), ("system", &system)])
}

fn answer(words: &Words, plan: &ScoringPlan) -> String {
    let cows = |n: u64, key: &str, every: u64| {
        let n = n as f64;
        words.say_for(n, key, &[("n", &words.whole(n)), ("every", &every.to_string())])
    };
    match plan.which {
        Which::EveryCow if plan.needed < plan.herd => cows(plan.needed, "sample.score-every-cow", 1),
        Which::EveryCow => words.word("sample.nothing-less"),
        Which::OneIn(every) => cows(cows_to_score(plan), "sample.score-one-in", every),
        Which::FromTheLast => cows(plan.needed, "sample.score-from-the-last", 1),
    }
}

fn which_words(words: &Words, plan: &ScoringPlan) -> String {
    match plan.which {
        Which::EveryCow => words.word("sample.every-cow"),
        Which::OneIn(every) => words.say("sample.one-in", &[("every", &every.to_string())]),
        Which::FromTheLast => words.word("sample.from-the-last"),
    }
}

fn squares_text(words: &Words, plans: &SamplePlans) -> SquaresText {
    let most = words.whole(MOST_SQUARES as f64);
    let row = |(density, plan): &(f64, Option<SquaresPlan>)| {
        let squares = plan.map_or_else(
            || words.say("sample.over", &[("n", &most)]),
            |plan| words.whole(plan.squares as f64),
        );
        let area = plan.map_or("–".to_owned(), |plan| words.trimmed(plan.area_m2, 3));
        [words.trimmed(*density, 3), squares, area]
    };
    let within = words.percent(plans.request.relative_half_width);
    SquaresText {
        answer: squares_answer(words, plans, &within, &most),
        table_heading: words.say("sample.squares-within", &[("within", &within)]),
        by_density: plans.by_density.iter().map(row).collect(),
    }
}

fn squares_answer(words: &Words, plans: &SamplePlans, within: &str, most: &str) -> String {
    let stones = words.trimmed(plans.request.stones_per_m2, 3);
    let Some(plan) = plans.squares else {
        return words.say("sample.too-many", &[("stones", &stones), ("within", within), ("most", most)]);
    };
    let n = plan.squares as f64;
    words.say_for(
        n,
        "sample.squares",
        &[
            ("stones", &stones),
            ("within", within),
            ("n", &words.whole(n)),
            ("area", &words.trimmed(plan.area_m2, 3)),
            ("count", &words.whole(plan.expected_stones)),
            ("low", &words.decimals(plan.interval_per_m2.0, 1)),
            ("high", &words.decimals(plan.interval_per_m2.1, 1)),
        ],
    )
}
