use super::*;
use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, read_walk};
use crate::reckon::plan::{PlanRequest, farm_plan};
use crate::reckon::{Settings, prepare};
use crate::report::plan_facts::plan_facts;
use crate::show::{markdown, plan_terminal};

/// The demonstration farm's plan, in all that is printed.
#[test]
fn a_plan_reads_well() {
    let mut findings = Findings::new();
    let text = SourceText::new("walk.yaml", include_str!("../../../examples/01-heronsway/walk.yaml"));
    let (library, walk) = read_walk(&text, &FileSet::builtin(), &mut findings).unwrap();
    let prepared = prepare(&library, &walk, Settings { draws: 512, ..Settings::default() }).unwrap();
    let request = PlanRequest { budget: Some(20_000.0), ..Default::default() };
    let farm = farm_plan(&prepared, &request).unwrap();
    let report = plan_page(&prepared, &farm);
    insta::assert_snapshot!(
        "plan_md",
        markdown::fill(&crate::input::english(), "plan.md", &report.page).unwrap()
    );
    insta::assert_snapshot!("plan_terminal", plan_terminal::plan(&library.words, &report.page, 80));
    let facts = plan_facts(&prepared, &farm, BTreeMap::new());
    let mut json = serde_json::to_value(&facts).unwrap();
    json["where_to_look"].as_array_mut().unwrap().truncate(3);
    json["frontier"].as_array_mut().unwrap().truncate(3);
    json["made_with"]["version"] = "x".into();
    insta::assert_json_snapshot!("plan_json", json);
}
