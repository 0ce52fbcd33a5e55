//! Runs the program as a user would: files in a folder of its own, arguments, and then everything
//! that came of it, so that a test can hold all of it and not only what it thought of.

#![allow(dead_code, unreachable_pub, reason = "each test file uses its own part")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use tempfile::TempDir;

/// A run of the program, being put together.
pub struct Run {
    folder: TempDir,
    command: Command,
    stdin: Vec<u8>,
    given: BTreeMap<String, Vec<u8>>,
}

/// What came of a run. Paths of the run's own folder read `DIR` in the texts.
#[derive(Debug, PartialEq, Eq)]
pub struct Outcome {
    /// Exit code.
    pub code: i32,
    /// Standard output.
    pub stdout: String,
    /// Standard error.
    pub stderr: String,
    /// Files that were not there before, or hold something else now, by path with `/`.
    pub files: BTreeMap<String, Vec<u8>>,
    /// Files that were given and are gone.
    pub lost: Vec<String>,
}

/// A run of `underfoot` with these arguments, in an empty folder and a neutral environment: no
/// colour, no locale but C, UTC, 80 columns, nothing on standard input.
pub fn underfoot<S: AsRef<str>>(arguments: impl IntoIterator<Item = S>) -> Run {
    let folder = tempfile::tempdir().expect("a folder for the run");
    let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    command
        .env_clear()
        .envs([("NO_COLOR", "1"), ("LC_ALL", "C"), ("TZ", "UTC"), ("COLUMNS", "80")])
        .current_dir(folder.path())
        .args(arguments.into_iter().map(|argument| argument.as_ref().to_owned()));
    Run { folder, command, stdin: Vec::new(), given: BTreeMap::new() }
}

impl Run {
    /// Lays a file into the folder; its path may name folders, with `/`.
    pub fn file(mut self, path: &str, bytes: impl AsRef<[u8]>) -> Self {
        let bytes = bytes.as_ref();
        let target = self.folder.path().join(path);
        std::fs::create_dir_all(target.parent().expect("a folder")).expect("folders for the file");
        std::fs::write(&target, bytes).expect("the file");
        self.given.insert(path.to_owned(), bytes.to_vec());
        self
    }

    /// Lays all files of a folder of the project into the folder, under the same names.
    pub fn folder(mut self, path: &str) -> Self {
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
        for (name, bytes) in files(&from) {
            self = self.file(&name, bytes);
        }
        self
    }

    /// More arguments.
    pub fn args<S: AsRef<str>>(mut self, arguments: impl IntoIterator<Item = S>) -> Self {
        self.command.args(arguments.into_iter().map(|argument| argument.as_ref().to_owned()));
        self
    }

    /// Sets a variable of the environment.
    pub fn env(mut self, name: &str, value: &str) -> Self {
        self.command.env(name, value);
        self
    }

    /// What is read from standard input.
    pub fn stdin(mut self, bytes: impl Into<Vec<u8>>) -> Self {
        self.stdin = bytes.into();
        self
    }

    /// The folder the program runs in.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Runs it. A run that takes a minute is ended and fails the test.
    pub fn run(self) -> Outcome {
        self.run_and(|_| ())
    }

    /// Runs it, and looks at the folder before that is gone.
    pub fn run_and(mut self, look: impl FnOnce(&Path)) -> Outcome {
        let timeout = std::time::Duration::from_secs(60);
        let output =
            self.command.write_stdin(self.stdin).timeout(timeout).output().expect("the program runs");
        let Some(code) = output.status.code() else { panic!("ended from outside: {:?}", output.status) };
        look(self.folder.path());
        let mut after = files(self.folder.path());
        let mut lost = Vec::new();
        for (path, bytes) in self.given {
            match after.get(&path) {
                Some(now) if *now == bytes => drop(after.remove(&path)),
                Some(_) => {}
                None => lost.push(path),
            }
        }
        Outcome {
            code,
            stdout: neutral(&output.stdout, self.folder.path()),
            stderr: neutral(&output.stderr, self.folder.path()),
            files: after,
            lost,
        }
    }
}

impl Outcome {
    /// Holds that the run went well and said nothing on standard error.
    #[track_caller]
    pub fn quiet_success(self) -> Self {
        assert_eq!((self.code, self.stderr.as_str()), (0, ""), "standard output:\n{}", self.stdout);
        self
    }

    /// Holds that the run went well, whatever it warned of.
    #[track_caller]
    pub fn done(self) -> Self {
        assert_eq!(self.code, 0, "standard error:\n{}", self.stderr);
        self
    }

    /// Holds that the run ended with this code, printed no result and wrote, changed and removed no
    /// file: what every failure promises.
    #[track_caller]
    pub fn clean_failure(self, code: i32) -> Self {
        assert_eq!((self.code, self.stdout.as_str()), (code, ""), "standard error:\n{}", self.stderr);
        let files: Vec<&String> = self.files.keys().collect();
        assert!(files.is_empty() && self.lost.is_empty(), "wrote {files:?}, lost {:?}", self.lost);
        self
    }

    /// A written file as text.
    #[track_caller]
    pub fn text(&self, path: &str) -> &str {
        let Some(bytes) = self.files.get(path) else {
            panic!("no {path} among {:?}; standard error:\n{}", self.files.keys(), self.stderr)
        };
        std::str::from_utf8(bytes).expect("UTF-8")
    }
}

/// Output as text, with `DIR` for the folder's own path.
fn neutral(bytes: &[u8], folder: &Path) -> String {
    let text = std::str::from_utf8(bytes).expect("output is UTF-8");
    let real = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    [real.as_path(), folder]
        .iter()
        .fold(text.to_owned(), |text, path| text.replace(&*path.to_string_lossy(), "DIR"))
}

/// All files below a folder, by path with `/`.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(inner) = folders.pop() {
        for entry in std::fs::read_dir(folder.join(&inner)).expect("a folder that can be read") {
            let entry = entry.expect("an entry");
            let path = inner.join(entry.file_name());
            if entry.file_type().expect("a kind of file").is_dir() {
                folders.push(path);
            } else {
                let name = path.to_string_lossy().replace('\\', "/");
                found.insert(name, std::fs::read(entry.path()).expect("a file that can be read"));
            }
        }
    }
    found
}
