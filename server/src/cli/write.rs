//! Writes a mended program: by a temporary file in the same folder and a rename, so that there is
//! never half a program, and only when nobody has changed the file meanwhile.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use super::discover::plain;

/// Replaces the content `old` of a file by `new`. Mode bits are kept; a link is kept and its
/// target written.
///
/// # Errors
/// Why nothing was written, and what to do.
pub(super) fn replace(path: &Path, old: &[u8], new: &[u8]) -> Result<(), String> {
    let failed = |error: io::Error| format!("it cannot be written: {}", plain(&error));
    // The rename would replace a link by a file.
    let target = fs::canonicalize(path).map_err(failed)?;
    let meta = fs::metadata(&target).map_err(failed)?;
    if !meta.is_file() {
        return Err("it is not a file and cannot be mended in place".to_owned());
    }
    if meta.permissions().readonly() {
        return Err("it is read-only and was left alone; give the right to write first".to_owned());
    }
    let folder = target.parent().unwrap_or(Path::new("."));
    let mut fresh = tempfile::Builder::new()
        .prefix(".flankwise-")
        .tempfile_in(folder)
        .map_err(|error| format!("no file can be made in its folder: {}", plain(&error)))?;
    fresh.write_all(new).map_err(failed)?;
    keep_owner(fresh.as_file(), &meta);
    fresh
        .as_file()
        .set_permissions(meta.permissions())
        .map_err(failed)?;
    fresh.as_file().sync_all().map_err(failed)?;
    if fs::read(&target).map_err(failed)? != old {
        return Err("it has changed since it was read and was left alone; run again".to_owned());
    }
    fresh
        .persist(&target)
        .map_err(|error| failed(error.error))?;
    Ok(())
}

/// Writes a report: by a temporary file in the same folder and a rename, whatever stood there before.
///
/// # Errors
/// Why nothing was written.
pub(super) fn create(path: &Path, bytes: &[u8]) -> Result<(), String> {
    let failed = |error: io::Error| format!("it cannot be written: {}", plain(&error));
    if fs::metadata(path).is_ok_and(|meta| !meta.is_file()) {
        return Err("it is not a file; name another".to_owned());
    }
    let folder = match path.parent() {
        Some(parent) if parent != Path::new("") => parent,
        _ => Path::new("."),
    };
    let mut fresh = new_file(folder)
        .map_err(|error| format!("no file can be made in its folder: {}", plain(&error)))?;
    fresh.write_all(bytes).map_err(failed)?;
    fresh.as_file().sync_all().map_err(failed)?;
    fresh.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// A temporary file with the rights that a new file has.
fn new_file(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".flankwise-");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Gives the new file the owner of the old one where the system lets us.
#[cfg(unix)]
fn keep_owner(file: &fs::File, meta: &fs::Metadata) {
    use std::os::unix::fs::{MetadataExt as _, fchown};
    // Only the superuser may; for anyone else the file is theirs already or stays ours.
    let _ = fchown(file, Some(meta.uid()), Some(meta.gid()));
}

#[cfg(not(unix))]
fn keep_owner(_: &fs::File, _: &fs::Metadata) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_changed_meanwhile_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("O1200");
        fs::write(&path, b"G0 X1\r\n").unwrap();
        let why = replace(&path, b"G0 X2\r\n", b"G0 X3\r\n").unwrap_err();
        assert!(why.contains("changed since it was read"), "{why}");
        assert_eq!(fs::read(&path).unwrap(), b"G0 X1\r\n");
        replace(&path, b"G0 X1\r\n", b"G0 X3\r\n").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"G0 X3\r\n");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn read_only_files_are_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("O1200");
        fs::write(&path, b"G0").unwrap();
        let mut rights = fs::metadata(&path).unwrap().permissions();
        rights.set_readonly(true);
        fs::set_permissions(&path, rights).unwrap();
        let why = replace(&path, b"G0", b"G1").unwrap_err();
        assert!(why.contains("read-only"), "{why}");
        assert_eq!(fs::read(&path).unwrap(), b"G0");
    }

    #[cfg(unix)]
    #[test]
    fn links_and_mode_bits_are_kept() {
        use std::os::unix::fs::{PermissionsExt as _, symlink};
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("real.nc");
        let link = folder.path().join("link.nc");
        fs::write(&target, b"G0").unwrap();
        fs::set_permissions(&target, fs::Permissions::from_mode(0o664)).unwrap();
        symlink("real.nc", &link).unwrap();
        replace(&link, b"G0", b"G1").unwrap();
        assert!(link.is_symlink());
        assert_eq!(fs::read(&target).unwrap(), b"G1");
        let mode = fs::metadata(&target).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o664);
    }
}
