mod samples;

use proptest::prelude::*;
use roxmltree::{Document, Node};

use super::palette::{CHART_CSS, Colour};
use super::scale::{Run, Scale, Unit};
use super::text::{Marks, width, wrap};
use super::*;
use crate::input::english;
use crate::model::words::Sentence;
use crate::report::figure::*;

#[test]
fn every_kind_of_chart_is_drawn_as_before() {
    for (name, figure) in samples::all() {
        let phone = draw(&figure, &Frame::phone(&english(), name));
        check(&phone);
        insta::assert_snapshot!(name, phone);
        check(&draw(&figure, &Frame::wide(&english(), name)));
    }
}

#[test]
fn a_figure_without_data_says_so() {
    let empty = [
        Figure::IntervalBars(IntervalBars::default()),
        Figure::StackedBars(StackedBars::default()),
        Figure::SectionMeters(SectionMeters::default()),
        Figure::Forest(Forest::default()),
        Figure::ControlChart(ControlChart::default()),
        Figure::Funnel(Funnel::default()),
        Figure::Frontier(Frontier::default()),
        Figure::BeforeAfter(BeforeAfter::default()),
        Figure::Timeline(Timeline::default()),
        Figure::Shares(Shares::default()),
        Figure::Bands(Bands::default()),
    ];
    for figure in empty {
        let svg = draw(&figure, &Frame::phone(&english(), "empty"));
        check(&svg);
        assert!(svg.contains("nothing to show"), "{svg}");
    }
}

#[test]
fn a_section_not_looked_at_is_never_drawn_as_a_score() {
    let row = SectionMeter { label: "Yard".into(), score: None, value_text: "0 of 4 answered".into() };
    let figure =
        SectionMeters { unanswered_label: "not looked at".into(), rows: vec![row], ..Default::default() };
    let svg = section_meters(&figure, &Frame::phone(&english(), "m"));
    assert!(svg.contains("not looked at") && svg.contains("stroke-dasharray"));
    assert!(!svg.contains(Colour::Main.hex()), "{svg}");
}

#[test]
fn ids_differ_between_charts_of_one_page() {
    let ids = |frame: &Frame| -> Vec<String> {
        let mut ids = Vec::new();
        for (_, figure) in samples::all() {
            let svg = draw(&figure, frame);
            let doc = Document::parse(&svg).expect("well-formed");
            ids.extend(doc.descendants().filter_map(|node| node.attribute("id")).map(str::to_string));
        }
        ids
    };
    let (one, other) = (ids(&Frame::phone(&english(), "a")), ids(&Frame::phone(&english(), "b\"><x")));
    assert!(!one.is_empty() && one.iter().all(|id| !other.contains(id)), "{one:?} {other:?}");
}

#[test]
fn numbers_have_no_minus_before_zero() {
    let number = |value, decimals| Marks::of(&english()).number(value, decimals);
    assert_eq!(number(-0.04, 1), "0.0");
    assert_eq!(number(-0.06, 1), "−0.1");
    assert_eq!(number(-1_234_567.0, 0), "−1,234,567");
    assert_eq!(number(999.96, 1), "1,000.0");
    assert_eq!(number(f64::NAN, 1), "");
    let mut words = (*english()).clone();
    for (key, mark) in [("number.decimal", ","), ("number.thousands", ".")] {
        words.sentences.get_mut(key).expect("a mark").other = Sentence::new(mark).expect("a sentence");
    }
    let marks = Marks::of(&words);
    assert_eq!((marks.number(1_234.5, 1), marks.ratio(0.05)), ("1.234,5".to_owned(), "0,05".to_owned()));
}

#[test]
fn a_scale_puts_values_where_they_belong() {
    let marks = Marks::of(&english());
    let linear = Scale::linear(&marks, [0.0, 23.0], Unit::Plain, Run::Level, 10.0, 310.0);
    let labels: Vec<&str> = linear.ticks.iter().map(|tick| tick.label.as_str()).collect();
    assert_eq!(labels, ["0", "5", "10", "15", "20", "25"]);
    assert_eq!([0.0, 12.5, 25.0].map(|value| linear.at(value)), [10.0, 160.0, 310.0]);
    // On a log axis 1 lies halfway between a half and a double.
    let ratio = Scale::ratio(&marks, [0.6, 1.7], 0.0, 100.0);
    assert_eq!(ratio.ends(), (0.5, 2.0));
    assert!((ratio.at(1.0) - 50.0).abs() < 1e-9);
    assert!(!ratio.holds(2.1) && ratio.at(2.1) == 100.0);
}

#[test]
fn long_words_are_broken_and_long_texts_cut() {
    let lines = wrap("a Donaudampfschifffahrtsgesellschaft and a cow that walks on and on", 10.0, 100.0, 3);
    assert_eq!(lines.len(), 3);
    assert!(lines.iter().all(|line| width(line, 10.0) <= 100.0), "{lines:?}");
    assert!(lines[2].ends_with('…'), "{lines:?}");
}

/// Contrast by the formula of the Web Content Accessibility Guidelines 2.2 (relative luminance and
/// contrast ratio), whose levels for text (1.4.3) and for marks (1.4.11) are 4.5 and 3.
#[test]
fn contrast_is_enough_by_day_and_by_night() {
    use Colour::*;
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    // From memory: #767676 is the lightest grey that passes on white, at 4.54.
    assert!((contrast("#767676", "#ffffff") - 4.54).abs() < 0.01);
    for colour in [Ink, Soft, Axis, Main, Second, Plum, Teal, Olive] {
        let least = if matches!(colour, Ink | Soft) { 4.5 } else { 3.0 };
        assert!(contrast(colour.hex(), Paper.hex()) >= least, "{colour:?} by day");
        assert!(contrast(&by_night(colour), &by_night(Paper)) >= least, "{colour:?} by night");
    }
    assert!(!by_night(Grid).is_empty());
}

/// The colour that the style sheet gives on dark screens; fill and stroke must be the same.
fn by_night(colour: Colour) -> String {
    let rule = |kind: char, property: &str| {
        let (_, rest) = CHART_CSS.split_once(&format!(".ch-{kind}-{}{{{property}:", colour.name()))?;
        rest.split_once('}').map(|(hex, _)| hex.to_string())
    };
    let fill = rule('f', "fill").expect("a rule for the fill");
    assert_eq!(rule('s', "stroke").as_deref(), Some(fill.as_str()));
    fill
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

fn luminance(hex: &str) -> f64 {
    let channel = |from: usize| {
        let value = f64::from(u8::from_str_radix(&hex[from..from + 2], 16).expect("two hex digits")) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// What holds for every chart: well-formed, described, nothing that a strict page would block, every
/// number a plain one, everything within the picture, no text below 11 px at 360.
fn check(svg: &str) {
    let doc = Document::parse(svg).unwrap_or_else(|fault| panic!("{fault}\n{svg}"));
    let root = doc.root_element();
    let view: Vec<f64> =
        root.attribute("viewBox").unwrap_or("").split(' ').map(|n| n.parse().expect("a number")).collect();
    let &[_, _, wide, high] = view.as_slice() else { panic!("no viewBox: {svg}") };
    assert_eq!(root.attribute("role"), Some("img"));
    let named: Vec<&str> = doc.descendants().filter_map(|node| node.attribute("id")).collect();
    for id in root.attribute("aria-labelledby").unwrap_or("").split(' ') {
        assert!(named.contains(&id), "{id} names nothing");
    }
    for node in doc.descendants().filter(Node::is_element) {
        let tag = node.tag_name().name();
        let known = [
            "svg", "title", "desc", "defs", "pattern", "rect", "path", "line", "polyline", "polygon",
            "circle", "text",
        ];
        assert!(known.contains(&tag), "<{tag}>");
        for attribute in node.attributes() {
            check_attribute(attribute.name(), attribute.value(), wide, high);
        }
        if tag == "rect" && node.parent_element() == Some(root) {
            assert!(
                at(&node, "x") + at(&node, "width") <= wide && at(&node, "y") + at(&node, "height") <= high
            );
        }
        if tag == "text" {
            check_text(&node, wide, high);
        }
    }
}

fn check_attribute(name: &str, value: &str, wide: f64, high: f64) {
    assert!(!["style", "href", "src", "onload", "onclick"].contains(&name), "{name}");
    // A name may hold any letters; a number may not.
    let is_name = ["id", "aria-labelledby"].contains(&name);
    assert!(is_name || !value.contains("NaN") && !value.contains("inf"), "{name}={value}");
    let limit = match name {
        "x" | "x1" | "x2" | "cx" | "width" if value != "100%" => wide,
        "y" | "y1" | "y2" | "cy" | "height" => high,
        "points" => {
            for pair in value.split(' ') {
                let (x, y) = pair.split_once(',').expect("a pair");
                check_attribute("x", x, wide, high);
                check_attribute("y", y, wide, high);
            }
            return;
        }
        _ => return,
    };
    assert!(!value.starts_with('-'), "{name}={value}");
    let number: f64 = value.parse().unwrap_or_else(|_| panic!("{name}={value}"));
    assert!(number <= limit, "{name}={value} is beyond {limit}");
}

fn at(node: &Node, name: &str) -> f64 {
    node.attribute(name).and_then(|value| value.parse().ok()).unwrap_or(f64::NAN)
}

fn check_text(node: &Node, wide: f64, high: f64) {
    let (x, y, size) = (at(node, "x"), at(node, "y"), at(node, "font-size"));
    let text = node.text().unwrap_or("");
    let length = width(text, size);
    let left = match node.attribute("text-anchor") {
        None => x,
        Some("middle") => x - length / 2.0,
        Some("end") => x - length,
        Some(other) => panic!("{other}"),
    };
    assert!(size >= 12.0, "{size} is too small on a page with margins: {text}");
    assert!(left >= 0.0 && left + length <= wide, "{text} sticks out: {left} to {}", left + length);
    assert!(y - size * 0.8 >= 0.0 && y + size * 0.2 <= high, "{text} sticks out: {y} of {high}");
}

fn figure_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -50.0..200.0f64,
        2 => 0.0..1.0f64,
        1 => any::<f64>(),
        1 => prop_oneof![Just(0.0), Just(-0.0), Just(f64::NAN), Just(f64::INFINITY), Just(1e-300), Just(1e308), Just(-9.9e8)],
    ]
}

fn label() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[A-Za-z ]{0,30}",
        1 => "\\PC{0,80}",
        1 => any::<String>(),
        1 => Just("</text><script>alert(1)</script> & \"quoted\" ]]> <!--".to_string()),
        1 => Just("W".repeat(900)),
        1 => Just("\u{0}\u{202e}\u{fffe}牛の跛行 👩\u{200d}🌾 e\u{301}".repeat(9)),
    ]
}

fn point() -> impl Strategy<Value = PointInterval> {
    (figure_number(), figure_number(), figure_number()).prop_map(|(point, low, high)| PointInterval {
        point,
        low,
        high,
    })
}

/// The raw material of any figure: three numbers, more of them, two texts, a flag.
type Stuff = (PointInterval, Vec<f64>, String, String, bool);

fn stuff() -> impl Strategy<Value = Vec<Stuff>> {
    let one = (point(), prop::collection::vec(figure_number(), 0..9), label(), label(), any::<bool>());
    prop::collection::vec(one, 0..9)
}

fn figures(words: &[String; 4], stuff: &[Stuff]) -> Vec<Figure> {
    let [one, two, three, four] = words.clone();
    let caption = Caption { title: one.clone(), description: two.clone() };
    let first = stuff.first();
    let number = first.map_or(f64::NAN, |row| row.0.low);
    let per = |n: usize| stuff.iter().skip(n);
    vec![
        Figure::IntervalBars(IntervalBars {
            caption: caption.clone(),
            axis: one.clone(),
            rows: per(0)
                .map(|(value, _, label, text, tied)| IntervalBar {
                    label: label.clone(),
                    value: *value,
                    value_text: text.clone(),
                    close_to_next: *tied,
                })
                .collect(),
            tie_note: two.clone(),
            spans_zero_note: three.clone(),
        }),
        Figure::StackedBars(StackedBars {
            caption: caption.clone(),
            axis: one.clone(),
            groups: words.iter().cycle().take(9).cloned().collect(),
            bars: per(0)
                .map(|(_, parts, label, text, _)| StackedBar {
                    label: label.clone(),
                    value_text: text.clone(),
                    parts: parts.clone(),
                })
                .collect(),
            remainder: first.map(|(value, _, label, text, _)| Remainder {
                label: label.clone(),
                value_text: text.clone(),
                value: value.point,
            }),
        }),
        Figure::SectionMeters(SectionMeters {
            caption: caption.clone(),
            low_label: two.clone(),
            high_label: three.clone(),
            unanswered_label: four.clone(),
            rows: per(0)
                .map(|(value, _, label, text, some)| SectionMeter {
                    label: label.clone(),
                    score: some.then_some(value.point),
                    value_text: text.clone(),
                })
                .collect(),
        }),
        Figure::Forest(Forest {
            caption: caption.clone(),
            axis: one.clone(),
            below_one: two.clone(),
            above_one: three.clone(),
            studies: per(0)
                .map(|(ratio, more, label, text, _)| Study {
                    label: label.clone(),
                    ratio: *ratio,
                    weight: more.first().copied().unwrap_or(0.5),
                    value_text: text.clone(),
                })
                .collect(),
            summaries: per(1)
                .zip([SummaryKind::Pooled, SummaryKind::Prior, SummaryKind::Weight])
                .map(|((ratio, _, label, text, _), kind)| Summary {
                    kind,
                    label: label.clone(),
                    ratio: *ratio,
                    value_text: text.clone(),
                })
                .collect(),
            directions: per(4)
                .map(|(_, _, label, text, way)| Direction {
                    label: label.clone(),
                    harmful: Some(*way),
                    words: text.clone(),
                })
                .collect(),
        }),
        Figure::ControlChart(ControlChart {
            caption: caption.clone(),
            axis: one.clone(),
            months: per(0)
                .map(|(value, _, label, text, some)| Month {
                    label: label.clone(),
                    rate: value.point,
                    lower: value.low,
                    upper: value.high,
                    signal: some.then(|| text.clone()),
                })
                .collect(),
            centre: number,
            centre_label: two.clone(),
            limits_label: three.clone(),
        }),
        Figure::Funnel(Funnel {
            caption: caption.clone(),
            x_axis: one.clone(),
            y_axis: two.clone(),
            centre: number,
            centre_label: three.clone(),
            points: per(0)
                .map(|(value, _, _, _, own)| FunnelPoint {
                    cow_years: value.point,
                    rate: value.low,
                    own: *own,
                })
                .collect(),
            limits: per(0)
                .map(|(value, _, _, _, _)| FunnelLimit {
                    cow_years: value.high,
                    inner: [value.low, value.point],
                    outer: [value.point, value.high],
                })
                .collect(),
            inner_label: one.clone(),
            outer_label: two.clone(),
            own_label: three.clone(),
            others_label: four.clone(),
        }),
        Figure::Frontier(Frontier {
            caption: caption.clone(),
            x_axis: one.clone(),
            y_axis: two.clone(),
            steps: per(0)
                .map(|(value, _, label, _, _)| FrontierStep {
                    capital: value.point,
                    brings: value.low,
                    label: label.clone(),
                })
                .collect(),
            budget: first.map(|(value, _, label, _, _)| Budget { capital: value.high, label: label.clone() }),
        }),
        Figure::BeforeAfter(BeforeAfter {
            caption: caption.clone(),
            low_label: one.clone(),
            high_label: two.clone(),
            before_label: three.clone(),
            after_label: four.clone(),
            rows: per(0)
                .map(|(value, _, label, text, some)| Change {
                    label: label.clone(),
                    before: some.then_some(value.point),
                    after: Some(value.low),
                    verdict: text.clone(),
                })
                .collect(),
        }),
        Figure::Timeline(Timeline {
            caption: caption.clone(),
            axis: one.clone(),
            points: per(0)
                .map(|(value, more, _, text, _)| Moment {
                    year: more.first().copied().unwrap_or(2026.4),
                    value: *value,
                    value_text: text.clone(),
                })
                .collect(),
            events: per(2)
                .map(|(value, _, label, _, _)| Event { year: value.point, label: label.clone() })
                .collect(),
        }),
        Figure::Shares(Shares {
            caption: caption.clone(),
            axis: one.clone(),
            rows: per(0)
                .map(|(share, _, label, text, _)| Share {
                    label: label.clone(),
                    share: *share,
                    value_text: text.clone(),
                })
                .collect(),
        }),
        Figure::Bands(Bands {
            caption,
            axis: one.clone(),
            below_one: two.clone(),
            above_one: three.clone(),
            expected_label: four.clone(),
            seen_label: one,
            rows: per(0)
                .map(|(ratio, more, label, text, some)| Band {
                    label: label.clone(),
                    expected: *ratio,
                    seen: some.then(|| PointInterval {
                        point: more.first().copied().unwrap_or(1.0),
                        low: ratio.low,
                        high: ratio.high,
                    }),
                    value_text: text.clone(),
                })
                .collect(),
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn any_data_gives_a_sound_chart(words in [label(), label(), label(), label()], stuff in stuff(), id in label()) {
        for figure in figures(&words, &stuff) {
            for frame in [Frame::phone(&english(), &id), Frame::wide(&english(), &id)] {
                check(&draw(&figure, &frame));
            }
        }
    }
}
