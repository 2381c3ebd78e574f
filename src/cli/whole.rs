//! Files that are written whole or not at all.
//!
//! Takes files with what they shall hold, gives them under their names. Each is written beside its
//! place first; only when all are there do they take the places of the old ones. After any failure
//! everything that was there before is still there, and nothing else.

use std::io;
use std::path::{Path, PathBuf};

use crate::files::Content;

use super::folder::{Rename, free_name, move_all, write_all};

/// Writes files.
///
/// # Errors
///
/// in words: which file, and what is in the way
pub(super) fn write_files(files: &[(String, Content)]) -> Result<(), String> {
    write_with(files, &mut |from, to| std::fs::rename(from, to))
}

fn write_with(files: &[(String, Content)], rename: Rename) -> Result<(), String> {
    let mut fresh: Vec<(PathBuf, PathBuf)> = Vec::new();
    let result = fill(files, &mut fresh).and_then(|()| {
        let mut moves = Vec::new();
        let mut stale = Vec::new();
        for (from, to) in &fresh {
            if to.exists() {
                let (parent, name) = parted(to)?;
                let old = free_name(parent, name, "old");
                moves.push((to.clone(), old.clone()));
                stale.push(old);
            }
            moves.push((from.clone(), to.clone()));
        }
        move_all(&moves, rename)?;
        Ok(stale)
    });
    let rest = match &result {
        Ok(stale) => stale.clone(),
        Err(_) => fresh.into_iter().map(|(from, _)| from).collect(),
    };
    for path in rest {
        let _ = std::fs::remove_file(path);
    }
    result.map(|_| ())
}

/// Writes every file beside its place, and adds the two names of each that was begun.
fn fill(files: &[(String, Content)], begun: &mut Vec<(PathBuf, PathBuf)>) -> Result<(), String> {
    for (file, content) in files {
        let place = place_of(file)?;
        let (parent, name) = parted(&place)?;
        let beside = free_name(parent, name, "new");
        let said = |e: io::Error| format!("writing {file} failed: {}", words(&e));
        let open = std::fs::File::create_new(&beside).map_err(said)?;
        begun.push((beside, place));
        write_all(open, content).map_err(said)?;
    }
    Ok(())
}

/// Where a file goes: a link stays a link.
fn place_of(file: &str) -> Result<PathBuf, String> {
    let path = Path::new(file);
    match std::fs::metadata(path) {
        Ok(facts) if facts.is_dir() => Err(format!("{file} is a folder")),
        Ok(facts) if !facts.is_file() => Err(format!("{file} is a device or a pipe, no file")),
        Ok(_) => path
            .canonicalize()
            .map_err(|e| format!("finding {file} failed: {e}")),
        Err(_) => {
            let (parent, _) = parted(path)?;
            match std::fs::metadata(parent) {
                Ok(facts) if facts.is_dir() => Ok(path.to_owned()),
                Ok(_) => Err(format!("{} is a file, no folder", parent.display())),
                Err(e) if e.kind() == io::ErrorKind::NotFound => {
                    Err(format!("there is no folder {}", parent.display()))
                }
                Err(e) => Err(format!("finding {} failed: {e}", parent.display())),
            }
        }
    }
}

/// The folder and the name of a file.
fn parted(path: &Path) -> Result<(&Path, &std::ffi::OsStr), String> {
    let name = path
        .file_name()
        .ok_or_else(|| format!("{} is no file name", path.display()))?;
    let parent = path.parent().filter(|p| !p.as_os_str().is_empty());
    Ok((parent.unwrap_or(Path::new(".")), name))
}

/// An error of writing in plain words.
fn words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        io::ErrorKind::PermissionDenied => "it may not be written here".to_owned(),
        io::ErrorKind::FileTooLarge => "it is larger than a file may be here".to_owned(),
        _ => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::content;

    /// Writes so many bytes, then the disk is full.
    fn full_after<'a>(bytes: usize) -> Content<'a> {
        Box::new(move |out| {
            out.write_all(&vec![b'x'; bytes])?;
            Err(io::ErrorKind::StorageFull.into())
        })
    }

    fn names(dir: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(dir).unwrap();
        let mut names: Vec<String> = entries
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn path(dir: &tempfile::TempDir, name: &str) -> String {
        dir.path().join(name).to_str().unwrap().to_owned()
    }

    #[test]
    fn a_full_disk_leaves_everything_as_it_was() {
        let dir = tempfile::tempdir().unwrap();
        let (one, two) = (path(&dir, "one.csv"), path(&dir, "two.csv"));
        write_files(&[(one.clone(), content("old"))]).unwrap();
        for bytes in [0, 1, 100, 1_000_000] {
            let files = [
                (one.clone(), content("new")),
                (two.clone(), full_after(bytes)),
            ];
            let said = write_files(&files).unwrap_err();
            assert!(said.contains("two.csv failed: the disk is full"), "{said}");
            assert_eq!(names(dir.path()), ["one.csv"]);
            assert_eq!(std::fs::read_to_string(&one).unwrap(), "old");
        }
    }

    #[test]
    fn whichever_move_fails_all_is_as_it_was() {
        // The old one aside, the new one in, the second new one in.
        for broken in 0..3 {
            let dir = tempfile::tempdir().unwrap();
            let (one, two) = (path(&dir, "one.csv"), path(&dir, "two.csv"));
            write_files(&[(one.clone(), content("old"))]).unwrap();
            let files = [
                (one.clone(), content("new")),
                (two.clone(), content("second")),
            ];
            let mut count = 0;
            let said = write_with(&files, &mut |from, to| {
                count += 1;
                if count == broken + 1 {
                    return Err(io::Error::other("no room"));
                }
                std::fs::rename(from, to)
            });
            assert!(said.unwrap_err().contains("no room"), "{broken}");
            assert_eq!(names(dir.path()), ["one.csv"], "{broken}");
            assert_eq!(std::fs::read_to_string(&one).unwrap(), "old");
        }
        let dir = tempfile::tempdir().unwrap();
        let (one, two) = (path(&dir, "one.csv"), path(&dir, "two.csv"));
        write_files(&[(one.clone(), content("old"))]).unwrap();
        write_files(&[(one.clone(), content("new")), (two, content("second"))]).unwrap();
        assert_eq!(names(dir.path()), ["one.csv", "two.csv"]);
        assert_eq!(std::fs::read_to_string(&one).unwrap(), "new");
    }

    #[test]
    fn what_is_in_the_way_is_named() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::create_dir(dir.path().join("folder.xml")).unwrap();
        std::fs::write(dir.path().join("file"), "").unwrap();
        for (name, words) in [
            ("folder.xml", "is a folder"),
            ("file/one.xml", "is a file, no folder"),
            ("missing/one.xml", "there is no folder"),
            ("missing/..", "is no file name"),
        ] {
            let said = write_files(&[(path(&dir, name), content("new"))]).unwrap_err();
            assert!(said.contains(words), "{name}: {said}");
        }
        assert_eq!(names(dir.path()), ["file", "folder.xml"]);
    }

    #[cfg(unix)]
    #[test]
    fn devices_stay_and_links_stay_links() {
        let said = write_files(&[("/dev/full".to_owned(), content("new"))]).unwrap_err();
        assert!(said.contains("is a device"), "{said}");
        let dir = tempfile::tempdir().unwrap();
        let (one, link) = (path(&dir, "one.xml"), path(&dir, "link.xml"));
        write_files(&[(one.clone(), content("old"))]).unwrap();
        std::os::unix::fs::symlink(&one, &link).unwrap();
        write_files(&[(link.clone(), content("new"))]).unwrap();
        assert!(Path::new(&link).is_symlink());
        assert_eq!(std::fs::read_to_string(&one).unwrap(), "new");
    }
}
