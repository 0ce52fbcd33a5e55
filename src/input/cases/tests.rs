//! Tables as people hand them over. The spreadsheets were made by openpyxl and odfpy
//! (`tests/data/make_tables.py`), not by us.

use super::*;
use crate::finding::{Findings, Severity};
use crate::model::case_record::{CaseRecord, Cases, Foot, Scale};
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;
use chrono::NaiveDate;
use proptest::prelude::*;

/// Findings as lines, the way the snapshots show them.
fn lines(findings: &Findings) -> String {
    let mut all = String::new();
    for finding in findings.sorted() {
        let (row, column) = finding.place.line_column();
        let kind = if finding.severity == Severity::Error { "error" } else { "warning" };
        all += &format!(
            "{}:{row}:{column}: {kind}[{}]: {}\n",
            finding.place.file(),
            finding.code,
            finding.message
        );
        if let Some(help) = &finding.help {
            all += &format!("    {help}\n");
        }
    }
    all
}

fn read(name: &str, bytes: &[u8], options: &CaseOptions) -> (Cases, CaseReading, Findings) {
    match read_table(name, bytes, &TableOptions::default()) {
        Ok(table) => read_cases(&table, options),
        Err(findings) => (Cases::default(), CaseReading::default(), findings),
    }
}

fn plain(text: &str) -> (Cases, CaseReading, Findings) {
    read("cases.csv", text.as_bytes(), &CaseOptions::default())
}

fn messages(text: &str) -> String {
    lines(&plain(text).2)
}

fn file(name: &str) -> Vec<u8> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/cases").join(name);
    std::fs::read(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
}

fn of_file(name: &str) -> (Cases, CaseReading, Findings) {
    read(name, &file(name), &CaseOptions::default())
}

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// What both good workbooks hold.
fn expect_the_good_rows(cases: &Cases) {
    let seen: Vec<(String, &str, Option<Foot>, Option<Lesion>)> = (cases.records.iter())
        .map(|record: &CaseRecord| {
            (record.date.to_string(), cases.cows[record.cow as usize].as_str(), record.foot, record.lesion)
        })
        .collect();
    assert_eq!(
        seen,
        [
            ("2025-03-04".into(), "112", Some(Foot::LeftHind), Some(Lesion::WhiteLine)),
            ("2025-03-20".into(), "112", Some(Foot::LeftHind), Some(Lesion::WhiteLine)),
            ("2025-05-02".into(), "Daisy", Some(Foot::RightFront), Some(Lesion::SolePenetration)),
            ("2025-06-30".into(), "207", Some(Foot::RightHind), None),
            ("2025-09-09".into(), "311", Some(Foot::RightHind), Some(Lesion::Other)),
        ]
    );
    let last = cases.records[4];
    assert_eq!((last.parity, last.days_in_milk, last.seen_by), (Some(2), Some(12), Some(Observer::Vet)));
    assert_eq!(last.first_sign, Some(day("2025-08-20")));
}

#[test]
fn workbooks_of_other_programs_read_alike() {
    let (cases, _, findings) = of_file("good.xlsx");
    expect_the_good_rows(&cases);
    insta::assert_snapshot!(lines(&findings));
    let (cases, _, findings) = of_file("good.ods");
    expect_the_good_rows(&cases);
    insta::assert_snapshot!(lines(&findings));
}

#[test]
fn bad_workbooks_say_what_is_wrong() {
    for name in ["merged.xlsx", "formula-errors.xlsx", "two-headings.xlsx", "truncated.xlsx", "merged.ods"] {
        insta::assert_snapshot!(name.replace('.', "-"), lines(&of_file(name).2));
    }
    let sheet = TableOptions { sheet: Some("2025".to_owned()), ..TableOptions::default() };
    let missing = read_table("good.xlsx", &file("good.xlsx"), &sheet).expect_err("no such sheet");
    insta::assert_snapshot!(lines(&missing));
    let named = TableOptions { sheet: Some("Lameness".to_owned()), ..TableOptions::default() };
    assert!(read_table("good.xlsx", &file("good.xlsx"), &named).expect("the sheet").warnings.is_empty());
}

#[test]
fn every_encoding_and_delimiter_gives_the_same_record() {
    for name in ["tabs-utf16le.csv", "commas-utf16be.csv", "bom-utf8.csv"] {
        let (cases, _, findings) = of_file(name);
        assert_eq!(lines(&findings), "", "{name}");
        assert_eq!(cases.cows, ["Mücke"], "{name}");
        assert_eq!(cases.records[0].lesion, Some(Lesion::DigitalDermatitis), "{name}");
    }
    let (cases, reading, findings) = of_file("semicolon-1252.csv");
    assert_eq!(cases.cows, ["Mücke"]);
    assert_eq!(cases.records[0].foot, Some(Foot::LeftHind));
    assert_eq!(reading.unknown[0].word, "Sohlengeschwür, groß");
    insta::assert_snapshot!(lines(&findings));
}

#[test]
fn rows_are_counted_as_an_editor_counts_them() {
    for end in ["\n", "\r\n", "\r"] {
        let text = format!("date,cow,note{end}{end}2026-03-01,7,x{end}{end}{end}soon,8,y{end}");
        let (cases, _, findings) = plain(&text);
        assert_eq!(cases.records[0].row, 3, "{end:?}");
        assert_eq!(findings.sorted()[0].place.line_column(), (6, 1), "{end:?}");
    }
    let (cases, _, _) = plain("sep=;\ndate;cow;note\n2026-03-01;7;\"two\nlines\"\n2026-03-02;8;\n");
    let rows: Vec<u32> = cases.records.iter().map(|record| record.row).collect();
    assert_eq!(rows, [3, 5]);
}

#[test]
fn days_are_never_guessed() {
    insta::assert_snapshot!(messages(
        "date,cow\n03/04/2026,1\n14/03/2026,2\n03/03/2026,3\n31/31/2026,4\n2026-02-30,5\n14/03/26,6\n\
         45000,7\nsoon,8\n,9\n14 Mar 2026,10\n2026-03-14T06:30,11\n1826-03-14,12\n20260314,13\n"
    ));
    let mdy = CaseOptions { dates: Some(DateOrder::Mdy), ..CaseOptions::default() };
    let (cases, _, findings) = read("c.csv", b"date,cow\n03/04/26,1\n14/03/2026,2\n2026-03-14,3\n", &mdy);
    assert_eq!(cases.records[0].date, day("2026-03-04"));
    insta::assert_snapshot!(lines(&findings));
    let iso = CaseOptions { dates: Some(DateOrder::Iso), ..CaseOptions::default() };
    insta::assert_snapshot!(lines(&read("c.csv", b"date,cow\n14/03/2026,2\n", &iso).2));
}

#[test]
fn bad_rows_are_refused_or_left_out_and_counted() {
    let text = "date,cow,parity,dim,first seen,score\n2026-03-01,,2,10,2026-02-27,2\n2026-03-02,8,two,99999,,9.5\n\
                2026-03-03,9,?,-,2026-03-05,\n2026-03-04,10,1,5,n/a,3\n2026-03-05,11,1,5,,3,stray\n";
    insta::assert_snapshot!(messages(text));
    let skip = CaseOptions { skip_bad: true, ..CaseOptions::default() };
    let (cases, reading, findings) = read("cases.csv", text.as_bytes(), &skip);
    assert_eq!((cases.records.len(), reading.rows, reading.skipped), (1, 5, 4));
    assert!(!findings.has_errors());
    insta::assert_snapshot!(lines(&findings).lines().last().unwrap_or(""));
}

#[test]
fn headings_are_found_or_named() {
    insta::assert_snapshot!(messages("when,who is it\n2026-03-01,7\n"));
    insta::assert_snapshot!(messages("Lameness 2026\n\ndate,cow,tag,weight\n2026-03-01,7,70,500\n"));
    insta::assert_snapshot!(messages("animal,,what\ndate,cow,foot\n2026-03-01,7,LH\n"));
    insta::assert_snapshot!(messages("date,cow,foot\nday,number,leg\n2026-03-01,7,LH\n"));
    let columns = parse_columns("date=when, cow=Who is it").expect("columns");
    let named = CaseOptions { columns, ..CaseOptions::default() };
    let (cases, _, findings) = read("c.csv", b"when;who is it\n2026-03-01;7\n", &named);
    assert_eq!((cases.cows, lines(&findings).as_str()), (vec!["7".to_owned()], ""));
    insta::assert_snapshot!(parse_columns("dat=when").expect_err("no such field"));
    insta::assert_snapshot!(parse_columns("date").expect_err("no heading"));
    insta::assert_snapshot!(lines(
        &read(
            "c.csv",
            b"date,cow\n2026-03-01,7\n",
            &CaseOptions { columns: parse_columns("date=Tag").expect("columns"), ..CaseOptions::default() }
        )
        .2
    ));
}

#[test]
fn doubtful_records_are_warned_of() {
    let today = CaseOptions { today: Some(day("2026-03-31")), ..CaseOptions::default() };
    let text = "date,cow,foot,lesion,seen by\n2026-03-01,7,LH,mystery,Tom\n2026-03-01,7,RH,WL,vet\n\
                2026-03-01,7,,WL,vet\n2027-03-01,8,XX,lame,farmer\n2026-03-02,9,LH,mystery";
    let (cases, reading, findings) = read("cases.csv", text.as_bytes(), &today);
    assert!(!findings.has_errors());
    insta::assert_snapshot!(lines(&findings));
    let lesions: Vec<Option<Lesion>> = cases.records.iter().map(|record| record.lesion).collect();
    let line = Some(Lesion::WhiteLine);
    assert_eq!(lesions, [Some(Lesion::Other), line, line, None, Some(Lesion::Other)]);
    assert_eq!(reading.lesion_words.iter().map(|word| word.rows).sum::<usize>(), 3);
}

#[test]
fn what_is_no_table_is_refused() {
    insta::assert_snapshot!(messages(""));
    insta::assert_snapshot!(messages("<html><table>"));
    insta::assert_snapshot!(lines(&read("c.csv", b"date,cow\0\n", &CaseOptions::default()).2));
    insta::assert_snapshot!(lines(&read("c.xls", &[0xD0, 0xCF, 0x11, 0xE0, 0], &CaseOptions::default()).2));
    insta::assert_snapshot!(messages("date,cow\n"));
    let open = format!("date,cow,note\n2026-03-01,7,\"never closed\n{}", "2026-03-02,8,x\n".repeat(60));
    insta::assert_snapshot!(messages(&open));
    insta::assert_snapshot!(messages("date,cow,lesion\n2026-03-01,7,DD\n2026-03-"));
    insta::assert_snapshot!(messages("date,cow,lesion\n2026-03-01,7,DD\n2026-03-02,8"));
}

/// The codes are those of the burden file and of the ICAR claw disorder key (from memory): a child
/// counts under its parent's group.
#[test]
fn codes_of_the_key_count_under_their_group() {
    let groups = [
        (Lesion::WhiteLine, "WL WLF WLA"),
        (Lesion::AxialFissure, "HFA"),
        (Lesion::FootRot, "IP"),
        (Lesion::DigitalDermatitis, "DD"),
        (Lesion::SoleUlcer, "U SU BU TU"),
        (Lesion::Other, "AC CD CC ID DS HHE HF HFH HFV IH SC SH SHD SHC SW TS TN"),
    ];
    for (lesion, codes) in groups {
        for code in codes.split(' ') {
            assert_eq!(words::lesion(code), words::Diagnosis::Known(lesion), "{code}");
            assert_eq!(words::lesion(lesion.id()), words::Diagnosis::Known(lesion), "{}", lesion.id());
        }
    }
}

#[test]
fn locomotion_scores_are_read_by_cow_or_by_count() {
    let read = |text: &str, scale| {
        let table = read_table("scores.csv", text.as_bytes(), &TableOptions::default()).expect("a table");
        read_locomotion(&table, scale, &LocomotionOptions::default())
    };
    let (scorings, findings) = read("score,count\n0,80\n1,10\n2,7\n3,3\n", Scale::ZeroToThree);
    assert_eq!(lines(&findings), "");
    assert_eq!((scorings[0].cows(), scorings[0].cows_from(2)), (100, 10));
    let by_cow = "date,cow,score\n2026-03-01,1,0\n2026-03-01,2,2\n2026-03-01,2,3\n2026-03-02,1,4\n";
    let (scorings, findings) = read(by_cow, Scale::ZeroToThree);
    assert_eq!(scorings[0].cows_by_score, [1, 0, 0, 1, 0, 0]);
    insta::assert_snapshot!(lines(&findings));
    insta::assert_snapshot!(lines(&read("cow,score\n1,2\n2,lame\n3,\n", Scale::ZeroToThree).1));
    insta::assert_snapshot!(lines(&read("cow,date\n1,2026-03-01\n", Scale::OneToFive).1));
}

proptest! {
    #[test]
    fn no_bytes_make_the_reading_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read("x", &bytes, &CaseOptions::default());
    }

    #[test]
    fn no_text_makes_the_reading_panic(
        text in "(date|cow|foot|,|;|\"|\n|[0-9]{1,4}|-|/|[ .:TÀ-ÿ]){0,60}",
        dates in prop::sample::select(vec![None, Some(DateOrder::Dmy), Some(DateOrder::Mdy), Some(DateOrder::Iso)]),
    ) {
        read("x", text.as_bytes(), &CaseOptions { dates, ..CaseOptions::default() });
        read("x", format!("date,cow\n{text}").as_bytes(), &CaseOptions { dates, ..CaseOptions::default() });
    }

    /// A byte changed anywhere in a workbook is read or refused, never a panic.
    #[test]
    fn a_damaged_workbook_is_no_panic(at in any::<prop::sample::Index>(), to in any::<u8>(), ods in any::<bool>()) {
        let mut bytes = file(if ods { "good.ods" } else { "good.xlsx" });
        let at = at.index(bytes.len());
        bytes[at] = to;
        read("x", &bytes, &CaseOptions::default());
    }

    /// Every row is a record or a bad row: nothing is dropped in silence.
    #[test]
    fn rows_are_read_or_counted_as_left_out(rows in prop::collection::vec("[0-9/-]{0,10},[a-c]?", 0..20)) {
        let text = format!("date,cow\n{}\n", rows.join("\n"));
        let skip = CaseOptions { skip_bad: true, ..CaseOptions::default() };
        let (cases, reading, _) = read("x", text.as_bytes(), &skip);
        let blank = rows.iter().filter(|row| row.as_str() == ",").count();
        prop_assert_eq!(reading.rows, rows.len() - blank);
        prop_assert_eq!(cases.records.len() + reading.skipped, reading.rows);
    }
}
