//! One figure of each kind, from an invented farm.

use crate::report::figure::*;

fn words(text: &str) -> String {
    text.to_string()
}

fn caption(title: &str) -> Caption {
    Caption { title: words(title), description: format!("{title}, at an invented farm.") }
}

fn around(point: f64, low: f64, high: f64) -> PointInterval {
    PointInterval { point, low, high }
}

pub(super) fn all() -> Vec<(&'static str, Figure)> {
    vec![
        ("interval_bars", Figure::IntervalBars(interval_bars())),
        ("stacked_bars", Figure::StackedBars(stacked_bars())),
        ("section_meters", Figure::SectionMeters(section_meters())),
        ("forest", Figure::Forest(forest())),
        ("control_chart", Figure::ControlChart(control_chart())),
        ("funnel", Figure::Funnel(funnel())),
        ("frontier", Figure::Frontier(frontier())),
        ("before_after", Figure::BeforeAfter(before_after())),
        ("timeline", Figure::Timeline(timeline())),
        ("shares", Figure::Shares(shares())),
        ("bands", Figure::Bands(bands())),
    ]
}

fn interval_bars() -> IntervalBars {
    let row = |label: &str, value: PointInterval, text: &str, close_to_next| IntervalBar {
        label: words(label),
        value,
        value_text: words(text),
        close_to_next,
    };
    IntervalBars {
        caption: caption("What to change first"),
        axis: words("cases avoided a year (bar: expected; line: 9 in 10 chance to lie within)"),
        rows: vec![
            row(
                "1 Let the cows walk at their own pace to the yard",
                around(13.6, 7.7, 20.8),
                "14 (8 to 21)",
                true,
            ),
            row(
                "2 Crown, drain and cap the track with fines: Home lane",
                around(12.9, 6.0, 21.2),
                "13 (6 to 21)",
                true,
            ),
            row("3 Rubber mats on the yard's turns", around(11.0, 3.5, 18.0), "11 (4 to 18)", false),
            row("4 Shorter wait in the yard", around(4.1, -1.2, 9.5), "4 (−1 to 10)", false),
            row("5 Footbath, weekly", around(-0.6, -3.0, 1.9), "−1 (−3 to 2)", false),
        ],
        tie_note: words("these two are too close to call"),
        spans_zero_note: words("may bring nothing"),
    }
}

fn stacked_bars() -> StackedBars {
    let bar = |label: &str, text: &str, parts: [f64; 7]| StackedBar {
        label: words(label),
        value_text: words(text),
        parts: parts.to_vec(),
    };
    StackedBars {
        caption: caption("Where the lameness comes from"),
        axis: words("cases a year"),
        groups: [
            "White line disease",
            "Sole penetration",
            "Axial wall fissure",
            "Foot rot",
            "Digital dermatitis",
            "Sole ulcer",
            "Other",
        ]
        .map(words)
        .to_vec(),
        bars: vec![
            bar("Pushing on the track", "9.4", [4.1, 2.0, 1.5, 0.6, 0.4, 0.5, 0.3]),
            bar("Stones on the walking surface", "7.9", [2.2, 3.6, 0.9, 0.9, 0.0, 0.3, 0.0]),
            bar("Wet, dirty feet", "4.6", [0.4, 0.2, 0.0, 1.8, 2.2, 0.0, 0.0]),
            bar("Short wait before milking", "−1.3", [-0.8, -0.2, 0.0, 0.0, 0.0, -0.3, 0.0]),
        ],
        remainder: Some(Remainder {
            label: words("Not explained by what was looked at"),
            value_text: words("17.8"),
            value: 17.8,
        }),
    }
}

fn section_meters() -> SectionMeters {
    let row =
        |label: &str, score, text: &str| SectionMeter { label: words(label), score, value_text: words(text) };
    SectionMeters {
        caption: caption("Score by section"),
        low_label: words("0 = good practice"),
        high_label: words("100 = as on the worst farms studied"),
        unanswered_label: words("not looked at"),
        rows: vec![
            row("Tracks", Some(61.0), "61 (7 of 8 answered)"),
            row("Yard and parlour", Some(34.2), "34 (5 of 9 answered)"),
            row("Feet and treatment", Some(0.0), "0 (3 of 3 answered)"),
            row("Feeding and calving", None, "0 of 6 answered"),
        ],
    }
}

fn forest() -> Forest {
    let study = |label: &str, ratio, weight, text: &str| Study {
        label: words(label),
        ratio,
        weight,
        value_text: words(text),
    };
    let summary = |kind, label: &str, ratio, text: &str| Summary {
        kind,
        label: words(label),
        ratio,
        value_text: words(text),
    };
    Forest {
        caption: caption("Stones on the track"),
        axis: words("risk ratio of lameness, log scale (square: the larger, the more it counts)"),
        below_one: words("less lameness"),
        above_one: words("more lameness"),
        studies: vec![
            study(
                "Maker 2020: loose stones in gateways v. none",
                around(1.5, 1.1, 2.1),
                0.6,
                "1.5 (1.1 to 2.1)",
            ),
            study("Other 2011: poor v. good track", around(1.9, 0.9, 4.0), 0.4, "1.9 (0.9 to 4.0)"),
            study("Third 1998: same animals, listed only", around(1.2, 0.01, 44.0), 0.0, "1.2 (0.0 to 44)"),
        ],
        summaries: vec![
            summary(
                SummaryKind::Pooled,
                "Pooled, for a new farm",
                around(1.62, 0.95, 2.76),
                "1.6 (1.0 to 2.8)",
            ),
            summary(SummaryKind::Prior, "Before any study", around(1.0, 0.44, 2.28), "1.0 (0.4 to 2.3)"),
            summary(SummaryKind::Weight, "Weight used", around(1.45, 0.95, 2.2), "1.4 (0.9 to 2.2)"),
        ],
        directions: vec![Direction {
            label: words("Fourth 2016: stones in gateways"),
            harmful: Some(true),
            words: words("more lameness; no size was printed, so it is not pooled"),
        }],
    }
}

fn control_chart() -> ControlChart {
    let rates = [1.2, 0.6, 0.9, 0.3, 0.9, 1.5, 4.9, 1.6, 1.3, 1.9, 1.4, 1.6, 1.7, 1.4, 1.3, 0.6, 0.3, 0.9];
    let months = [
        "Mar 24", "Apr 24", "May 24", "Jun 24", "Jul 24", "Aug 24", "Sep 24", "Oct 24", "Nov 24", "Dec 24",
        "Jan 25", "Feb 25", "Mar 25", "Apr 25", "May 25", "Jun 25", "Jul 25", "Aug 25",
    ];
    let month = |(n, (label, rate)): (usize, (&str, f64))| Month {
        label: words(label),
        rate,
        lower: 0.0,
        upper: if n % 5 == 3 { 4.4 } else { 3.7 },
        signal: match n {
            6 => Some(words("above the limit")),
            14 => Some(words("eight in a row above the mean")),
            _ => None,
        },
    };
    ControlChart {
        caption: caption("Cases by month"),
        axis: words("cases per 100 cow-months"),
        months: months.into_iter().zip(rates).enumerate().map(month).collect(),
        centre: 1.3,
        centre_label: words("this farm's mean"),
        limits_label: words("limits of chance"),
    }
}

fn funnel() -> Funnel {
    let points = [
        (95.0, 31.0),
        (140.0, 12.0),
        (210.0, 26.4),
        (230.0, 18.0),
        (318.0, 39.0),
        (410.0, 22.0),
        (620.0, 15.5),
        (800.0, 24.0),
        (1000.0, 20.0),
    ];
    let limit = |cow_years: f64, inner: [f64; 2], outer: [f64; 2]| FunnelLimit { cow_years, inner, outer };
    Funnel {
        caption: caption("Farms of the group by size"),
        x_axis: words("cow-years of records"),
        y_axis: words("cases per 100 cow-years"),
        centre: 22.0,
        centre_label: words("mean of the group"),
        points: points
            .map(|(cow_years, rate)| FunnelPoint { cow_years, rate, own: cow_years == 318.0 })
            .to_vec(),
        limits: vec![
            limit(80.0, [13.0, 34.0], [7.6, 40.5]),
            limit(200.0, [16.0, 28.5], [12.6, 33.0]),
            limit(400.0, [17.6, 26.6], [15.0, 29.6]),
            limit(700.0, [18.6, 25.5], [16.7, 27.7]),
            limit(1000.0, [19.1, 24.9], [17.5, 26.7]),
        ],
        inner_label: words("95 % of farms, by chance alone"),
        outer_label: words("99.8 % of farms"),
        own_label: words("your farm"),
        others_label: words("other farms"),
    }
}

fn frontier() -> Frontier {
    let step = |capital, brings, label: &str| FrontierStep { capital, brings, label: words(label) };
    Frontier {
        caption: caption("What each sum brings"),
        x_axis: words("capital, AUD"),
        y_axis: words("cases avoided a year"),
        steps: vec![
            step(0.0, 8.2, "0: patient herding; nothing to buy"),
            step(1_800.0, 11.0, "1,800: and mats on the turns"),
            step(2_100.0, 12.4, "2,100: and a backing gate that is slow"),
            step(24_500.0, 21.3, "24,500: and cap the Home lane"),
            step(61_000.0, 23.5, "61,000: and widen the yard"),
        ],
        budget: Some(Budget { capital: 30_000.0, label: words("budget: 30,000") }),
    }
}

fn before_after() -> BeforeAfter {
    let row = |label: &str, before, after, verdict: &str| Change {
        label: words(label),
        before,
        after,
        verdict: words(verdict),
    };
    BeforeAfter {
        caption: caption("What changed"),
        low_label: words("0 = good practice"),
        high_label: words("1 = the exposed end"),
        before_label: words("March 2025"),
        after_label: words("March 2026"),
        rows: vec![
            row("Stones on the walking surface", Some(0.8), Some(0.25), "better"),
            row("Pushing on the track", Some(0.5), Some(0.5), "as before"),
            row("Wait in the yard", Some(0.1), Some(0.34), "worse"),
            row("Footbath", None, Some(0.6), "not looked at the first time"),
        ],
    }
}

fn timeline() -> Timeline {
    let point = |year, value, text: &str| Moment { year, value, value_text: words(text) };
    Timeline {
        caption: caption("Cases over the years"),
        axis: words("cases per 100 cow-years"),
        points: vec![
            point(2023.2, around(34.0, 28.0, 41.0), "34"),
            point(2024.2, around(31.5, 25.5, 38.0), "32"),
            point(2025.2, around(22.0, 17.0, 28.0), "22"),
            point(2026.2, around(18.5, 14.0, 24.0), "18"),
        ],
        events: vec![
            Event { year: 2024.5, label: words("June 2024: Home lane capped with fines") },
            Event { year: 2025.4, label: words("May 2025: slow backing gate") },
        ],
    }
}

fn shares() -> Shares {
    let row = |label: &str, share, text: &str| Share { label: words(label), share, value_text: words(text) };
    Shares {
        caption: caption("Which lesions"),
        axis: words("share of the cases with a recorded lesion (line: 95 % for all at once)"),
        rows: vec![
            row("White line disease", around(0.42, 0.29, 0.56), "21 of 50"),
            row("Sole penetration", around(0.3, 0.19, 0.44), "15 of 50"),
            row("Foot rot", around(0.28, 0.17, 0.42), "14 of 50"),
        ],
    }
}

fn bands() -> Bands {
    let band = |label: &str, expected, seen, text: &str| Band {
        label: words(label),
        expected,
        seen,
        value_text: words(text),
    };
    Bands {
        caption: caption("Did it work"),
        axis: words("cases after : cases before, log scale"),
        below_one: words("fewer cases"),
        above_one: words("more cases"),
        expected_label: words("expected, with the play of chance"),
        seen_label: words("seen (line: 95 %)"),
        rows: vec![
            band(
                "All lameness",
                around(0.72, 0.5, 1.02),
                Some(around(0.61, 0.44, 0.85)),
                "within what was expected",
            ),
            band(
                "White line disease",
                around(0.6, 0.33, 1.1),
                Some(around(1.3, 0.7, 2.4)),
                "worse than expected",
            ),
            band("Foot rot", around(0.9, 0.5, 1.6), None, "no cases in either year"),
        ],
    }
}
