//! What happens to files: written whole or not at all, never over an input, and the same bytes wherever
//! and however the program runs.

mod common;

use common::{Outcome, underfoot};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_underfoot");
const TUSSOCK_FLAT: &str = include_str!("../examples/02-tussock-flat/walk.yaml");

fn fast(arguments: &str) -> common::Run {
    underfoot(arguments.split(' ')).args(["--draws", "256"])
}

/// Says why a test was not run, also where the harness keeps what tests print.
fn not_run(test: &str, why: &str) {
    let _ = writeln!(std::io::stderr(), "{test}: NOT RUN: {why}");
}

// --- Whole or not at all

/// The half-written file beside the target, while there is one.
fn half_written(folder: &Path) -> Option<PathBuf> {
    let mut entries = std::fs::read_dir(folder).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    entries
        .find(|path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(".underfoot-")))
}

/// Starts the program on one of two sheets of a megabyte each, waits until it has begun to write, and
/// kills it a little later each time: what stands there is one sheet or the other, whole.
#[test]
#[cfg(unix)]
fn a_power_cut_leaves_the_old_file_or_the_new_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("sheet.html");
    let start = |checklist: &str| {
        let mut command = Command::new(PROGRAM);
        command.args(["--quiet", "sheet", checklist, "--out"]).arg(&out);
        command.spawn().expect("the program runs")
    };
    let whole = ["pasture-herd", "self-check"].map(|checklist| {
        assert!(start(checklist).wait().expect("it ends").success());
        std::fs::read(&out).expect("a sheet")
    });
    let (mut half, mut seen) = (0, [0, 0]);
    for round in 0..60 {
        let mut child = start(["pasture-herd", "self-check"][round % 2]);
        let limit = Instant::now() + Duration::from_secs(20);
        while half_written(folder.path()).is_none() && child.try_wait().expect("a child").is_none() {
            assert!(Instant::now() < limit, "nothing is written");
        }
        std::thread::sleep(Duration::from_micros(40 * (round as u64 / 2)));
        child.kill().expect("it is killed");
        child.wait().expect("it ends");
        if let Some(left) = half_written(folder.path()) {
            half += 1;
            std::fs::remove_file(left).expect("what the dead program left");
        }
        let now = std::fs::read(&out).expect("a sheet");
        match whole.iter().position(|sheet| *sheet == now) {
            Some(which) => seen[which] += 1,
            None => panic!("round {round}: {} bytes that are neither sheet", now.len()),
        }
    }
    assert!(half > 0, "no round was cut within a write; whole sheets: {seen:?}");
}

/// Runs a line of shell with a small disk at `$DISK`, seen by nobody else and gone afterwards.
fn on_a_small_disk(script: &str) -> Option<(String, bool)> {
    let folder = tempfile::tempdir().expect("a folder");
    let disk = folder.path().join("disk");
    std::fs::create_dir(&disk).expect("a place for the disk");
    std::fs::write(folder.path().join("walk.yaml"), TUSSOCK_FLAT).expect("the walk");
    let mounted = format!("mount -t tmpfs -o size=32k none \"$DISK\" || exit 77\n{script}");
    let output = Command::new("unshare")
        .args(["--mount", "--map-root-user", "sh", "-c", &mounted])
        .env("DISK", &disk)
        .env("PROGRAM", PROGRAM)
        .current_dir(folder.path())
        .output();
    let output = output.ok().filter(|output| output.status.code() != Some(77))?;
    let refused = String::from_utf8_lossy(&output.stderr).contains("unshare:");
    let told =
        [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
    (!refused).then_some((told, output.status.success()))
}

#[test]
fn a_full_disk_keeps_the_old_report() {
    let script = "printf old >\"$DISK/report.html\"
        \"$PROGRAM\" report walk.yaml --draws 256 --for adviser --out \"$DISK/report.html\"
        echo \"exit $?\"; cat \"$DISK/report.html\"; echo; ls -A \"$DISK\"";
    let Some((told, _)) = on_a_small_disk(script) else {
        return not_run("a_full_disk_keeps_the_old_report", "no disk can be mounted here");
    };
    assert!(told.starts_with("exit 3\nold\nreport.html\n"), "{told}");
    assert!(told.contains("report.html: can't be written: No space left on device"), "{told}");
}

#[test]
fn a_folder_that_is_read_only_is_told() {
    let script =
        "printf old >\"$DISK/report.html\"; cp walk.yaml \"$DISK\"; mount -o remount,ro \"$DISK\" || exit 77
        cd \"$DISK\"
        for to in report.html new.html; do
            \"$PROGRAM\" report walk.yaml --draws 256 --out $to; echo \"exit $?\"
        done
        \"$PROGRAM\" card walk.yaml --draws 256; echo \"exit $?\"; cat report.html; ls -A";
    let Some((told, _)) = on_a_small_disk(script) else {
        return not_run("a_folder_that_is_read_only_is_told", "no disk can be mounted here");
    };
    assert!(told.starts_with("exit 3\nexit 3\nexit 3\noldreport.html\nwalk.yaml\n"), "{told}");
    for name in ["report.html", "new.html", "farm-code.txt"] {
        assert!(told.contains(&format!("{name}: can't be written: Read-only file system")), "{told}");
    }
}

#[test]
#[cfg(unix)]
fn a_full_device_is_told_and_a_device_is_never_replaced() {
    use std::os::unix::fs::FileTypeExt;
    let is_device = |path: &str| std::fs::metadata(path).is_ok_and(|data| data.file_type().is_char_device());
    fast("report walk.yaml --as md --out /dev/null").file("walk.yaml", TUSSOCK_FLAT).run().quiet_success();
    let run = fast("report walk.yaml --as md --out /dev/full").file("walk.yaml", TUSSOCK_FLAT).run();
    assert!(run.clean_failure(3).stderr.contains("/dev/full: can't be written"));
    assert!(is_device("/dev/null") && is_device("/dev/full"));
    // Standard output on a full disk.
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("a device");
    let status = Command::new(PROGRAM).args(["evidence"]).stdout(full).stderr(Stdio::null()).status();
    assert_eq!(status.expect("it runs").code(), Some(3));
}

#[test]
#[cfg(unix)]
fn links_are_followed_and_permissions_kept() {
    use std::os::unix::fs::PermissionsExt;
    let run = fast("report walk.yaml --as md --out link.md").file("walk.yaml", TUSSOCK_FLAT);
    let run = run.file("real/old.md", "old").file("kept.txt", "");
    let (real, link) = (run.path().join("real/old.md"), run.path().join("link.md"));
    std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).expect("permissions");
    std::os::unix::fs::symlink("real/old.md", &link).expect("a link");
    let outcome = run.run_and(|folder| {
        assert!(folder.join("link.md").symlink_metadata().expect("the link").is_symlink());
        let mode = std::fs::metadata(folder.join("real/old.md")).expect("a file").permissions().mode();
        assert_eq!(mode & 0o777, 0o640);
    });
    assert!(outcome.quiet_success().text("real/old.md").starts_with("# Tussock Flat"));
}

// --- Never over an input

/// Tables that a walk names are inputs, and so is every walk of a comparison.
#[test]
fn no_input_is_overwritten() {
    let named = |walk: &str| {
        let walk = walk
            .replace("cases: null", "cases: cases.csv")
            .replace("locomotion: null", "locomotion: locomotion.csv");
        // The counts are the last part of the record.
        walk.split("  counts:").next().unwrap_or_default().to_owned()
    };
    let walk = named(include_str!("../examples/01-heronsway/walk.yaml"));
    let revisit = "revisit walk.yaml walk-2026.yaml --actions actions.yaml";
    for (arguments, outs) in [
        ("score walk.yaml", vec!["cases.csv", "locomotion.csv"]),
        ("report walk.yaml", vec!["cases.csv"]),
        ("plan walk.yaml --budget 9000", vec!["cases.csv"]),
        ("card walk.yaml", vec!["./cases.csv"]),
        (revisit, vec!["cases.csv", "walk.yaml", "walk-2026.yaml", "actions.yaml"]),
    ] {
        for out in outs {
            let run =
                fast(arguments).args(["--out", out]).folder("examples/01-heronsway").file("walk.yaml", &walk);
            let run = run.file("farm-code.txt", "3wx-3qf\n").run().clean_failure(2);
            assert!(
                run.stderr.ends_with("is an input: it is not overwritten\n"),
                "{arguments} {out}: {}",
                run.stderr
            );
        }
    }
    for (arguments, folder) in [
        ("cases cases.csv --cows 274 --out cases.csv", "examples/01-heronsway"),
        ("group . --draws 256 --out 3wx-3qf-2026.yaml", "examples/group"),
    ] {
        let run = underfoot(arguments.split(' ')).folder(folder).run().clean_failure(2);
        assert!(run.stderr.contains("is an input"), "{arguments}: {}", run.stderr);
    }
}

// --- The same bytes

const NAME: &str = "Höfe am Wäldchen, 群れ/walk \u{1f404} no. 7.yaml";

fn report(prepare: impl FnOnce(common::Run) -> common::Run, walk: &str, format: &str) -> Outcome {
    let run = underfoot(["report", walk, "--as", format, "--for", "adviser", "--out", "-", "--draws", "256"]);
    prepare(run.file(walk, TUSSOCK_FLAT)).run().quiet_success()
}

/// Report and JSON know no locale, clock, folder or number of cores.
#[test]
fn the_same_bytes_everywhere() {
    let folder = tempfile::tempdir().expect("a folder");
    let walk = folder.path().join("walk.yaml");
    std::fs::write(&walk, TUSSOCK_FLAT).expect("the walk");
    for format in ["html", "json", "md"] {
        let first = report(|run| run, "walk.yaml", format).stdout;
        assert!(first.len() > 5_000);
        let again = report(|run| run, "walk.yaml", format);
        assert_eq!(again.stdout, first, "{format}: a second run");
        let elsewhere = |run: common::Run| {
            let locale = [
                ("LC_ALL", "tr_TR.UTF-8"),
                ("LANG", "de_DE.UTF-8"),
                ("LANGUAGE", "fr"),
                ("TZ", "Pacific/Auckland"),
            ];
            locale
                .into_iter()
                .fold(run, |run, (name, value)| run.env(name, value))
                .env("COLUMNS", "200")
                .env("HOME", "/")
        };
        assert_eq!(
            report(elsewhere, "walk.yaml", format).stdout,
            first,
            "{format}: another locale and time zone"
        );
        assert_eq!(report(|run| run, "a b/ü/walk.yaml", format).stdout, first, "{format}: another folder");

        let on = |cores: &str| {
            let arguments = ["report", "--as", format, "--for", "adviser", "--out", "-", "--draws", "256"];
            let mut command = Command::new("taskset");
            command.args(["--cpu-list", cores, PROGRAM]).args(arguments).arg(&walk).current_dir("/");
            String::from_utf8(command.output().expect("taskset of util-linux").stdout).expect("UTF-8")
        };
        if cfg!(target_os = "linux") {
            assert_eq!(on("0"), first, "{format}: one core");
            if std::thread::available_parallelism().is_ok_and(|cores| cores.get() > 1) {
                assert_eq!(on("0,1"), first, "{format}: two cores");
            }
        }
    }
}

#[test]
fn paths_may_hold_spaces_and_letters_of_any_language() {
    let run = underfoot(["report", NAME, "--draws", "256"]).file(NAME, TUSSOCK_FLAT).run();
    let written = NAME.replace(".yaml", "-report.html");
    assert!(run.text(&written).contains("Tussock Flat"));
    assert_eq!(run.stderr, format!("wrote {written}\n"));
    let cases = include_str!("../examples/01-heronsway/cases.csv");
    let run = underfoot([
        "cases",
        "années passées.csv",
        "--cows",
        "274",
        "--quiet",
        "--as",
        "md",
        "--out",
        "a b/ç à.md",
    ]);
    let run = run.file("années passées.csv", cases).file("a b/there.txt", "").run().quiet_success();
    assert!(run.text("a b/ç à.md").starts_with("# "));
    let run = underfoot(["check", "fehlt – nicht da.yaml"]).run().clean_failure(3);
    assert!(run.stderr.contains("fehlt – nicht da.yaml"), "{}", run.stderr);
}
