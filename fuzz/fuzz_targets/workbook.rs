//! Case records in an XLSX or ODS workbook. Bytes that are a workbook are taken as they are. Others are
//! laid into one, since chance would never find the checksums of its parts: parts stand one behind the
//! other, divided by a line `====`. With an office document in front, it is an ODS; else the parts are those of an XLSX.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::{Cursor, Write};
use zip::write::{SimpleFileOptions, ZipWriter};

/// Parts of an XLSX in the order in which the input gives them, each with what stands there without it.
const PARTS: [(&str, &str); 4] = [
    ("xl/worksheets/sheet1.xml", ""),
    ("xl/sharedStrings.xml", "<sst/>"),
    ("xl/styles.xml", "<styleSheet/>"),
    (
        "xl/workbook.xml",
        "<workbook xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets>\
         <sheet name=\"Cases\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>",
    ),
];

const RELATIONS: &str = "<Relationships><Relationship Id=\"rId1\" \
    Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet\" \
    Target=\"worksheets/sheet1.xml\"/></Relationships>";

fn zipped(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for (path, bytes) in parts {
        archive.start_file(*path, stored).expect("a part");
        archive.write_all(bytes).expect("memory");
    }
    archive.finish().expect("an archive").into_inner()
}

/// Parts divided by a line `====`.
fn divided(bytes: &[u8]) -> Vec<&[u8]> {
    let mut parts = Vec::new();
    let mut rest = bytes;
    while let Some(at) = rest.windows(6).position(|window| window == b"\n====\n") {
        parts.push(&rest[..at]);
        rest = &rest[at + 6..];
    }
    parts.push(rest);
    parts
}

fn workbook(bytes: &[u8]) -> Vec<u8> {
    if bytes.starts_with(b"<office:") {
        let mimetype = b"application/vnd.oasis.opendocument.spreadsheet".as_slice();
        return zipped(&[("mimetype", mimetype), ("content.xml", bytes)]);
    }
    let given = divided(bytes);
    let part = |at: usize| given.get(at).copied().unwrap_or(PARTS[at].1.as_bytes());
    let mut parts: Vec<(&str, &[u8])> = (0..PARTS.len()).map(|at| (PARTS[at].0, part(at))).collect();
    parts.push(("xl/_rels/workbook.xml.rels", RELATIONS.as_bytes()));
    zipped(&parts)
}

fuzz_target!(|bytes: &[u8]| {
    match bytes.starts_with(b"PK") {
        true => underfoot_fuzz::records::through(bytes),
        false => underfoot_fuzz::records::through(&workbook(bytes)),
    }
});
