//! A folder that is written whole or not at all.
//!
//! Takes files with their content, gives a folder. What somebody else put into it stays; after
//! any failure everything that was there before is still there. Knows no report but the names
//! of its files.

use std::collections::BTreeSet;
use std::ffi::{OsStr, OsString};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use crate::files::Content;
use crate::report::is_report_file;

/// Gives a file or folder another name.
pub(super) type Rename<'a> = &'a mut dyn FnMut(&Path, &Path) -> io::Result<()>;

/// Writes a folder: into a new one beside it, which then takes its place. Files and folders of
/// somebody else move into the new one.
///
/// # Errors
///
/// in words; what was there before is then still there
pub(super) fn write_folder(dir: &Path, files: &[(String, Content)]) -> Result<(), String> {
    write_with(dir, files, &mut |from, to| std::fs::rename(from, to))
}

fn write_with(dir: &Path, files: &[(String, Content)], rename: Rename) -> Result<(), String> {
    let shown = dir.display();
    if dir.file_name().is_none() {
        return Err(format!("{shown} is no folder name"));
    }
    let there = dir.exists();
    // A link stays a link: the folder it leads to is the one that is written.
    let dir = if there {
        dir.canonicalize()
            .map_err(|e| format!("finding {shown} failed: {e}"))?
    } else {
        dir.to_owned()
    };
    if there && !is_replaceable(&dir) {
        return Err(format!(
            "{shown} exists and is no earlier report; name another folder with --out"
        ));
    }
    let ours: BTreeSet<&OsStr> = files.iter().map(|(name, _)| OsStr::new(name)).collect();
    let kept = if there {
        others(&dir, &ours).map_err(|e| format!("reading {shown} failed: {e}"))?
    } else {
        Vec::new()
    };
    if let Some(name) = kept.iter().find(|name| ours.contains(name.as_os_str())) {
        return Err(format!(
            "{} is a folder, and a file of this name is to be written",
            dir.join(name).display()
        ));
    }
    let parent = match dir.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
        _ => PathBuf::from("."),
    };
    std::fs::create_dir_all(&parent)
        .map_err(|e| format!("making {} failed: {e}", parent.display()))?;
    let name = dir.file_name().unwrap_or_default();
    let fresh = free_name(&parent, name, "new");
    let stale = free_name(&parent, name, "old");
    std::fs::create_dir(&fresh).map_err(|e| format!("making {} failed: {e}", fresh.display()))?;
    let result = fill(&fresh, files).and_then(|()| {
        let mut moves = vec![(fresh.clone(), dir.clone())];
        if there {
            moves.insert(0, (dir.clone(), stale.clone()));
        }
        moves.extend(kept.iter().map(|k| (stale.join(k), dir.join(k))));
        move_all(&moves, rename)
    });
    clear(&fresh, &ours);
    if result.is_ok() {
        clear(&stale, &ours);
    }
    result
}

fn fill(folder: &Path, files: &[(String, Content)]) -> Result<(), String> {
    for (file, content) in files {
        let path = folder.join(file);
        std::fs::File::create(&path)
            .and_then(|open| write_all(open, content))
            .map_err(|e| format!("writing {} failed: {e}", path.display()))?;
    }
    Ok(())
}

/// Writes all of a file, and waits until it is on the disk: a full one may be found no sooner.
pub(super) fn write_all(open: std::fs::File, content: &Content) -> io::Result<()> {
    let mut out = io::BufWriter::with_capacity(1 << 16, open);
    content(&mut out)?;
    out.flush()?;
    out.get_ref().sync_all()
}

/// Moves in order; if one fails, those before it are taken back.
pub(super) fn move_all(moves: &[(PathBuf, PathBuf)], rename: Rename) -> Result<(), String> {
    for (at, (from, to)) in moves.iter().enumerate() {
        let Err(e) = rename(from, to) else {
            continue;
        };
        let words = format!("moving {} to {} failed: {e}", from.display(), to.display());
        for (from, to) in moves[..at].iter().rev() {
            if let Err(e) = rename(to, from) {
                return Err(format!(
                    "{words}; moving {} back to {} failed as well: {e}; nothing is deleted, \
                     move it back by hand",
                    to.display(),
                    from.display()
                ));
            }
        }
        return Err(words);
    }
    Ok(())
}

/// Names in a folder that are neither written now nor left behind by an earlier report, sorted.
fn others(dir: &Path, ours: &BTreeSet<&OsStr>) -> io::Result<Vec<OsString>> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        if !is_ours(&entry, ours)? {
            names.push(entry.file_name());
        }
    }
    names.sort();
    Ok(names)
}

/// True for a file that is written now, or that an earlier report left behind.
fn is_ours(entry: &std::fs::DirEntry, ours: &BTreeSet<&OsStr>) -> io::Result<bool> {
    let name = entry.file_name();
    let has_name = ours.contains(name.as_os_str()) || name.to_str().is_some_and(is_report_file);
    Ok(has_name && !entry.file_type()?.is_dir())
}

/// Deletes a folder with our files in it; with anything else in it, it stays.
fn clear(folder: &Path, ours: &BTreeSet<&OsStr>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        if is_ours(&entry, ours).unwrap_or(false) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
    let _ = std::fs::remove_dir(folder);
}

/// A hidden name beside a folder that nothing has.
pub(super) fn free_name(parent: &Path, name: &OsStr, ending: &str) -> PathBuf {
    let id = std::process::id();
    let mut number = 0u32;
    loop {
        let mut hidden = OsString::from(".");
        hidden.push(name);
        hidden.push(format!(".{id}-{number}.{ending}"));
        let path = parent.join(hidden);
        if path.symlink_metadata().is_err() {
            return path;
        }
        number += 1;
    }
}

/// An earlier report, or an empty folder.
fn is_replaceable(dir: &Path) -> bool {
    let is_report = || {
        let bytes = std::fs::read(dir.join("report.json")).ok()?;
        let value: serde_json::Value = serde_json::from_slice(&bytes).ok()?;
        Some(value["program"] == env!("CARGO_PKG_NAME"))
    };
    let is_empty = || std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_none());
    dir.is_dir() && (is_report() == Some(true) || is_empty())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::files::content;

    fn report<'a>(word: &str) -> Vec<(String, Content<'a>)> {
        let json = format!("{{\"program\": \"cutbank\", \"word\": \"{word}\"}}");
        vec![
            ("index.html".to_owned(), content(word)),
            ("report.json".to_owned(), content(json)),
        ]
    }

    /// Every file below a folder with its content.
    fn tree(dir: &Path) -> BTreeMap<PathBuf, String> {
        let mut found = BTreeMap::new();
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                found.extend(tree(&path));
            } else {
                found.insert(path.clone(), std::fs::read_to_string(&path).unwrap());
            }
        }
        found
    }

    /// An earlier report with a sheet too many, beside it two files and a folder of the user's.
    fn yard() -> (tempfile::TempDir, PathBuf) {
        let top = tempfile::tempdir().unwrap();
        let dir = top.path().join("report");
        write_folder(&dir, &report("first")).unwrap();
        std::fs::write(dir.join("section-9.svg"), "left behind").unwrap();
        std::fs::write(dir.join("notes.txt"), "notes").unwrap();
        std::fs::write(dir.join("section-a.svg"), "drawn by hand").unwrap();
        std::fs::create_dir(dir.join("photos")).unwrap();
        std::fs::write(dir.join("photos/gate.txt"), "gate").unwrap();
        (top, dir)
    }

    #[test]
    fn what_somebody_else_put_there_stays() {
        let (top, dir) = yard();
        write_folder(&dir, &report("second")).unwrap();
        let names: Vec<_> = tree(top.path()).into_keys().collect();
        let expected = [
            "index.html",
            "notes.txt",
            "photos/gate.txt",
            "report.json",
            "section-a.svg",
        ];
        assert_eq!(names, expected.map(|name| dir.join(name)));
        let text = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
        assert_eq!(
            (&*text("index.html"), &*text("notes.txt")),
            ("second", "notes")
        );
    }

    #[test]
    fn whichever_move_fails_all_is_as_it_was() {
        // Five moves: the old one aside, the new one in, three things of the user's.
        for broken in 0..5 {
            let (top, dir) = yard();
            let before = tree(top.path());
            let mut count = 0;
            let said = write_with(&dir, &report("second"), &mut |from, to| {
                count += 1;
                if count == broken + 1 {
                    return Err(io::Error::other("no room"));
                }
                std::fs::rename(from, to)
            });
            assert!(said.unwrap_err().contains("no room"), "{broken}");
            assert_eq!(tree(top.path()), before, "{broken}");
        }
    }

    #[test]
    fn if_nothing_moves_back_nothing_is_deleted() {
        for broken in 0..5 {
            let (top, dir) = yard();
            let before = tree(top.path());
            let mut count = 0;
            let said = write_with(&dir, &report("second"), &mut |from, to| {
                count += 1;
                if count > broken {
                    return Err(io::Error::other("no room"));
                }
                std::fs::rename(from, to)
            })
            .unwrap_err();
            assert_eq!(said.contains("by hand"), broken > 0, "{said}");
            let after: Vec<String> = tree(top.path()).into_values().collect();
            for (path, content) in &before {
                assert!(after.contains(content), "{broken}: {}", path.display());
            }
        }
    }

    #[test]
    fn folders_of_others_are_not_written() {
        let (top, dir) = yard();
        // A report of another program.
        let other = top.path().join("other");
        std::fs::create_dir(&other).unwrap();
        std::fs::write(other.join("report.json"), "{\"program\": \"kiln\"}").unwrap();
        // A folder where a file has to go.
        std::fs::remove_file(dir.join("index.html")).unwrap();
        std::fs::create_dir(dir.join("index.html")).unwrap();
        let before = tree(top.path());
        for (dir, words) in [(&other, "no earlier report"), (&dir, "is a folder")] {
            let said = write_folder(dir, &report("second")).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
        let said = write_folder(&top.path().join(".."), &report("second")).unwrap_err();
        assert!(said.contains("no folder name"), "{said}");
        assert_eq!(tree(top.path()), before);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let (top, dir) = yard();
        let link = top.path().join("link");
        std::os::unix::fs::symlink(&dir, &link).unwrap();
        write_folder(&link, &report("second")).unwrap();
        assert!(link.is_symlink());
        let text = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
        assert_eq!(
            (&*text("index.html"), &*text("notes.txt")),
            ("second", "notes")
        );
    }
}
