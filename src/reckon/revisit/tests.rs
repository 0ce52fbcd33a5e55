use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, read_walk};
use crate::reckon::{Settings, prepare};

#[test]
fn scratch() {
    let text = include_str!("../../../examples/01-heronsway/walk.yaml");
    let (library, walk) =
        read_walk(&SourceText::new("walk.yaml", text), &FileSet::builtin(), &mut Findings::new()).unwrap();
    let prepared = prepare(&library, &walk, Settings { draws: 1024, ..Settings::default() }).unwrap();
    let chosen = prepared.first_actions(5);
    let mut all = Vec::new();
    for option in chosen {
        all.push(option);
        let g = prepared.set_gain(&all);
        println!("{} {}", prepared.options[option].id, crate::reckon::stats::summary::mean(&g.cases));
    }
    println!("{:?} {}", prepared.herd, prepared.plausibility.kappa);
}
