//! Files that stand whole in their place, or not at all: written beside it, then moved there.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// The files being written now, for whoever ends the program in the middle of it.
static WRITTEN_NOW: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// A file beside its place, which goes away unless it is [finished](Unfinished::finish).
pub struct Unfinished {
    target: PathBuf,
    beside: PathBuf,
}

impl Unfinished {
    /// Begins the file `target`, empty and beside its place. Of a link, the file that it stands for: the link stays.
    ///
    /// # Errors
    /// It cannot be made there.
    pub fn of(target: &Path) -> io::Result<Unfinished> {
        static NUMBER: AtomicU32 = AtomicU32::new(0);
        let target = target
            .canonicalize()
            .unwrap_or_else(|_| target.to_path_buf());
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let mut name = target.file_name().unwrap_or_default().to_os_string();
        name.push(format!(".{}-{number}.part", std::process::id()));
        let beside = target.with_file_name(name);
        // Made and noted in one go: whoever gives up in between would else remove it before it is there.
        let mut now = now();
        File::create(&beside)?;
        now.push(beside.clone());
        drop(now);
        Ok(Unfinished { target, beside })
    }
    /// Where it stands as yet.
    pub fn path(&self) -> &Path {
        &self.beside
    }
    /// The file, to be written from its start.
    ///
    /// # Errors
    /// It is not there any more: whoever ends the program removed it.
    pub fn open(&self) -> io::Result<File> {
        OpenOptions::new()
            .write(true)
            .truncate(true)
            .open(&self.beside)
    }
    /// Moves it to its place; what stood there is replaced.
    ///
    /// # Errors
    /// As the system says; nothing is left beside the place then.
    pub fn finish(self) -> io::Result<()> {
        let _now = now();
        fs::rename(&self.beside, &self.target)
    }
}

/// The files being written now. Once the program is given up, this waits for its end.
fn now() -> MutexGuard<'static, Vec<PathBuf>> {
    WRITTEN_NOW.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        // It was moved to its place, or never made, or cannot be removed: nothing more to do here.
        let _ = fs::remove_file(&self.beside);
        now().retain(|path| path != &self.beside);
    }
}

/// True for what is there and is no file, such as a pipe or a terminal: that is written straight into.
pub fn is_stream(path: &Path) -> bool {
    // `/dev/stdout` may stand for a file, which whoever named it holds open and wants added to.
    let device = cfg!(unix) && (path.starts_with("/dev") || path.starts_with("/proc"));
    path.exists() && !path.is_dir() && (device || !path.is_file())
}

/// Whether a file could stand there, as far as that can be seen without making one.
///
/// # Errors
/// It is a folder, a link to nowhere, or its own folder is not there: in words that go on after `could not be written:`.
pub fn could_be(path: &Path) -> Result<(), String> {
    if path.is_dir() {
        return Err("it is a folder; name a file in it".to_string());
    }
    if path.is_symlink() && !path.exists() {
        let to = fs::read_link(path).unwrap_or_default();
        return Err(format!(
            "it is a link to {}, which is not there; name that file itself, or remove the link",
            to.display()
        ));
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    match folder {
        Some(folder) if !folder.is_dir() => Err(format!(
            "there is no folder {}; make it, or name another place",
            folder.display()
        )),
        _ => Ok(()),
    }
}

/// Writes a file whole: who reads it meanwhile sees the old one or the new one.
///
/// # Errors
/// As the system says; the old file, where there was one, stands as it was.
pub fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if is_stream(path) {
        let mut stream = fs::OpenOptions::new().append(true).open(path)?;
        return stream.write_all(bytes);
    }
    let file = Unfinished::of(path)?;
    file.open()?.write_all(bytes)?;
    file.finish()
}

/// Removes whatever is half written: the program ends now.
pub fn give_up() {
    let now = now();
    for path in now.iter() {
        // There is nobody left to tell where that fails.
        let _ = fs::remove_file(path);
    }
    // Nobody begins another one, or finishes one: the lock is kept until the process is gone.
    std::mem::forget(now);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_whole_or_as_it_was() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("out.txt");
        write(&path, b"first").expect("it can be written");
        let half = Unfinished::of(&path).expect("it can be made");
        let mut begun = half.open().expect("it is there");
        begun.write_all(b"sec").expect("it can be written");
        drop(half);
        assert_eq!(fs::read(&path).expect("it is there"), b"first");
        write(&path, b"second").expect("it can be written");
        assert_eq!(fs::read(&path).expect("it is there"), b"second");
        let names = fs::read_dir(folder.path()).expect("a folder").count();
        assert_eq!(names, 1, "nothing is left beside it");
        let nowhere = folder.path().join("none").join("out.txt");
        assert!(write(&nowhere, b"x").is_err());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, link) = (folder.path().join("real"), folder.path().join("link"));
        fs::write(&path, "old").expect("it can be written");
        std::os::unix::fs::symlink(&path, &link).expect("a link");
        write(&link, b"new").expect("it can be written");
        assert!(link.is_symlink());
        assert_eq!(fs::read(&path).expect("it is there"), b"new");
    }
}
