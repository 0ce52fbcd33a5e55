use super::*;
use crate::finding::Findings;
use crate::input::{FileSet, read_library};
use crate::reckon::herd_rate::plausibility;
use crate::reckon::weights::weights;

fn library() -> Library {
    let mut findings = Findings::new();
    read_library(&FileSet::builtin(), "pasture-herd", &mut findings).expect("the shipped files are sound")
}

fn text(id: &str) -> String {
    let library = library();
    let weights = weights(&library, System::Pasture);
    let weight =
        weights.iter().find(|weight| library.factors[weight.factor].id == id).expect("a known factor");
    let evidence = factor_evidence(&library, weight, System::Pasture);
    render_text(&library.words, &evidence, 80).expect("the template is sound")
}

#[test]
fn a_pooled_factor_shows_every_step() {
    insta::assert_snapshot!(text("overgrown-claws"));
}

#[test]
fn a_direction_is_called_a_direction() {
    insta::assert_snapshot!(text("herding-pressure"));
}

#[test]
fn judgement_is_called_judgement() {
    insta::assert_snapshot!(text("track-width"));
}

#[test]
fn a_lesion_keeps_its_own_size() {
    insta::assert_snapshot!(text("wet-slurry"));
}

#[test]
fn the_overview_lists_every_factor() {
    let library = library();
    let weights = weights(&library, System::Pasture);
    let overview = overview(&library, &weights, System::Pasture);
    let text = render_overview(&library.words, &overview, 80);
    insta::assert_snapshot!(text.expect("the template is sound"));
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let library = library();
    for system in System::ALL {
        for weight in weights(&library, system) {
            let evidence = factor_evidence(&library, &weight, system);
            for width in [64, 80, 120] {
                let text = render_text(&library.words, &evidence, width).expect("the template is sound");
                let widest = text.lines().map(unicode_width::UnicodeWidthStr::width).max();
                assert!(widest <= Some(width), "{} at {width}:\n{text}", evidence.id);
            }
        }
    }
}

/// The page that Markdown escapes and draws elsewhere; here the text alone.
#[test]
fn the_methods_page_names_every_constant() {
    let library = library();
    for system in System::ALL {
        let weights = weights(&library, system);
        let burden = library.burden.system(system);
        let limit = plausibility(&library, &weights, &burden.lesion_mix, burden.incidence_shape);
        let methods = methods(&library, &weights, system, Some(limit));
        let keys: Vec<&str> = methods.constants.iter().map(|row| row.key.as_str()).collect();
        for constant in &library.burden.constants.provenance {
            assert!(keys.contains(&constant.key.as_str()), "{} is not explained", constant.key);
        }
        assert!(methods.constants.iter().all(|row| !row.from.is_empty()));
        let page = crate::show::markdown::fill(&library.words, "methods.md", &methods);
        let page = page.expect("the template is sound");
        insta::assert_snapshot!(format!("methods_{}", system.id()), page);
    }
}

#[test]
fn a_forest_holds_the_numbers_of_the_text() {
    let library = library();
    let weights = weights(&library, System::Pasture);
    let all = overview(&library, &weights, System::Pasture);
    for factor in &all.factors {
        assert_eq!(factor.forests().count() > 0, factor.basis == "published", "{}", factor.id);
    }
    let claws = all.factors.iter().find(|factor| factor.id == "overgrown-claws").expect("a known factor");
    insta::assert_yaml_snapshot!(claws.forests().collect::<Vec<_>>());
}

#[test]
fn names_are_cited_as_in_print() {
    let source = |authors: Option<&str>| Source {
        id: "maker-2020".to_owned(),
        authors: authors.map(str::to_owned),
        year: 2020,
        title: String::new(),
        journal: None,
        doi: None,
        read: crate::model::evidence::Read::Abstract,
    };
    let words = crate::input::english();
    assert_eq!(words::cite(&words, &source(Some("Maker A"))), "Maker 2020");
    assert_eq!(words::cite(&words, &source(Some("Maker AB, Other B"))), "Maker & Other 2020");
    assert_eq!(words::cite(&words, &source(Some("de Jong E, Frankena K, Orsel K"))), "de Jong et al. 2020");
    assert_eq!(words::cite(&words, &source(Some("Maker A, et al."))), "Maker et al. 2020");
    assert_eq!(words::cite(&words, &source(None)), "maker-2020 (authors not noted)");
}
