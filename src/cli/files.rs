//! Reading and writing files. A file is written whole or not at all.

use super::Failure;
use super::tables::paths_beside;
use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, MAX_BYTES, decode_utf8, too_large};
use crate::show::ink;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

fn unreadable(path: &Path, error: &std::io::Error) -> Failure {
    Failure::File(format!("{}: can't be read: {}", path.display(), reason(error)))
}

fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        _ => error.to_string(),
    }
}

/// Up to `cap` bytes of a file; more is told apart by its length.
fn read_capped(path: &Path, cap: u64) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    fs::File::open(path)?.take(cap + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A table of records may be this large, bytes.
const MAX_TABLE_BYTES: u64 = 1 << 30;

/// The bytes of a table of records.
pub(super) fn read_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let bytes = read_capped(path, MAX_TABLE_BYTES).map_err(|error| unreadable(path, &error))?;
    if bytes.len() as u64 > MAX_TABLE_BYTES {
        return Err(Failure::File(format!("{}: larger than 1 GB", path.display())));
    }
    Ok(bytes)
}

/// A YAML file as text. A file that is too large or not UTF-8 is a finding.
pub(super) fn read_text(path: &Path) -> Result<SourceText, Failure> {
    let bytes = read_capped(path, MAX_BYTES as u64).map_err(|error| unreadable(path, &error))?;
    let name = path.display().to_string();
    let read = if bytes.len() > MAX_BYTES {
        Err(too_large(&name, fs::metadata(path).map_or(bytes.len(), |data| data.len() as usize)))
    } else {
        decode_utf8(&name, &bytes)
    };
    read.map_err(|finding| {
        let mut findings = Findings::new();
        findings.add(finding);
        Failure::Data(findings)
    })
}

/// The shipped files with those of the user's folder over them.
pub(super) fn file_set(folder: Option<&Path>) -> Result<FileSet, Failure> {
    let mut files = FileSet::builtin();
    for (key, path) in own_files(folder)? {
        files.overlay(&key, read_text(&path)?);
    }
    Ok(files)
}

/// The YAML files of the user's folder with their paths in a set of checklists, in a fixed order.
fn own_files(folder: Option<&Path>) -> Result<Vec<(String, PathBuf)>, Failure> {
    let mut own = Vec::new();
    let Some(folder) = folder else { return Ok(own) };
    for relative in ["", "evidence"] {
        let inside = folder.join(relative);
        let entries = match fs::read_dir(&inside) {
            Ok(entries) => entries,
            Err(error) if relative.is_empty() => return Err(unreadable(&inside, &error)),
            Err(_) => continue,
        };
        let mut paths: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
        paths.sort();
        for path in paths.into_iter().filter(|path| path.extension().is_some_and(|end| end == "yaml")) {
            let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
            let key = if relative.is_empty() { name } else { format!("{relative}/{name}") };
            own.push((key, path));
        }
    }
    Ok(own)
}

/// Every file that a command reads: those it names, the tables that walk records name, and the user's
/// own checklists.
pub(super) fn inputs(named: &[&Path], folder: Option<&Path>) -> Result<Vec<PathBuf>, Failure> {
    let own = own_files(folder)?.into_iter().map(|(_, path)| path);
    // A table among them is no text that names others.
    let texts = named.iter().filter_map(|path| read_text(path).ok());
    let beside: Vec<PathBuf> = texts.flat_map(|text| paths_beside(&text)).collect();
    Ok(named.iter().map(|path| path.to_path_buf()).chain(beside).chain(own).collect())
}

/// Writes a page of the terminal: inked where it goes to one, plain into a file.
pub(super) fn write_inked(out: Option<&Path>, text: &str, inputs: &[PathBuf]) -> Result<(), Failure> {
    match out {
        Some(path) if path != Path::new("-") => write_file(path, text.as_bytes(), inputs),
        _ => print(anstream::stdout().lock(), ink::page(text).as_bytes()),
    }
}

/// Writes text to standard output, or to a file, whole or not at all.
pub(super) fn write(out: Option<&Path>, text: &[u8], inputs: &[PathBuf]) -> Result<(), Failure> {
    match out {
        Some(path) if path != Path::new("-") => write_file(path, text, inputs),
        _ => print(std::io::stdout().lock(), text),
    }
}

fn print(mut stdout: impl Write, text: &[u8]) -> Result<(), Failure> {
    let written = stdout.write_all(text).and_then(|()| stdout.flush());
    match written {
        // A reader that has seen enough, such as `head`, is no fault.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::File(format!("standard output can't be written: {error}"))),
        Ok(()) => Ok(()),
    }
}

/// A new file in the folder of another, which takes that one's name once it is whole.
fn temporary_beside(path: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".underfoot-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As a program's new file would be, less the user's umask, which the system takes off.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Writes beside the target and renames, so that a power cut leaves the old file or the new one.
/// Never over an input; the permissions of a file that is replaced are kept.
fn write_file(path: &Path, text: &[u8], inputs: &[PathBuf]) -> Result<(), Failure> {
    let same = |input: &&PathBuf| match (fs::canonicalize(input), fs::canonicalize(path)) {
        (Ok(input), Ok(path)) => input == path,
        _ => false,
    };
    if let Some(input) = inputs.iter().find(same) {
        return Err(Failure::Usage(format!("{} is an input: it is not overwritten", input.display())));
    }
    let unwritable = |error: std::io::Error| {
        Failure::File(format!("{}: can't be written: {}", path.display(), reason(&error)))
    };
    let permissions = fs::metadata(path).ok().map(|data| data.permissions());
    let mut file = temporary_beside(path).map_err(unwritable)?;
    file.write_all(text).and_then(|()| file.as_file().sync_all()).map_err(unwritable)?;
    if let Some(permissions) = permissions {
        file.as_file().set_permissions(permissions).map_err(unwritable)?;
    }
    file.persist(path).map_err(|error| unwritable(error.error))?;
    Ok(())
}

/// The place of a page that goes beside a file: `<stem>-<kind>.html`.
pub(super) fn beside(file: &Path, kind: &str) -> PathBuf {
    let stem = file.file_stem().map_or("walk".into(), |stem| stem.to_string_lossy().into_owned());
    file.with_file_name(format!("{stem}-{kind}.html"))
}

/// Writes a file that must not be there yet, whole or not at all.
pub(super) fn write_new(path: &Path, text: &[u8]) -> Result<(), Failure> {
    let taken = || Failure::File(format!("{}: is there already, and is not overwritten", path.display()));
    let unwritable = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => taken(),
        _ => Failure::File(format!("{}: can't be written: {}", path.display(), reason(&error))),
    };
    if path.symlink_metadata().is_ok() {
        return Err(taken());
    }
    let mut file = temporary_beside(path).map_err(unwritable)?;
    file.write_all(text).and_then(|()| file.as_file().sync_all()).map_err(unwritable)?;
    file.persist_noclobber(path).map_err(|error| unwritable(error.error))?;
    Ok(())
}
