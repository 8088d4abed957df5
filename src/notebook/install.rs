//! Telling notebook programs of the kernel: a folder with `kernel.json` where they look for kernels.

use std::path::{Path, PathBuf};

use serde_json::json;

/// Where the kernel is to be found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// By this person alone.
    User,
    /// By all who use the Python under that folder, or the system's.
    Prefix(PathBuf),
}

/// Why the kernel could not be told of.
#[derive(Debug, thiserror::Error)]
pub enum InstallError {
    /// The person's folder is not known.
    #[error("your home folder is not known here: say where with --prefix DIR")]
    NoHome,
    /// This program does not know where it stands itself.
    #[error("where this program stands cannot be found out: {0}")]
    NoProgram(std::io::Error),
    /// The folder cannot be written.
    #[error("{} could not be written: {reason}", path.display())]
    Unwritten {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        reason: std::io::Error,
    },
}

/// GNU's allocator else learns to keep what logs leave free: after 200 opens of a log of 100 MB it held 445 MB where 72 are
/// in use. Given this bound it does not learn. Other systems know no such word.
const BOUND: &str = "MALLOC_MMAP_THRESHOLD_";
const BOUND_BYTES: &str = "1048576";

/// Begins this process anew, under its number and with its arguments, where the allocator was not given its bound: it
/// asks for it at its start alone, and a kernel that somebody starts by hand has no `kernel.json` to say it. Comes back
/// where there is nothing to do, or where it cannot be done.
pub fn bounded() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    if std::env::var_os(BOUND).is_none()
        && let Ok(program) = std::env::current_exe()
    {
        use std::os::unix::process::CommandExt;
        let mut anew = std::process::Command::new(program);
        // Where it fails the kernel runs all the same, and only holds more.
        let _ = anew
            .args(std::env::args_os().skip(1))
            .env(BOUND, BOUND_BYTES)
            .exec();
    }
}

/// Name under which notebooks ask for it.
pub const NAME: &str = "plugread";

/// Writes the folder and gives its path. `home` is the person's own folder, `data` the one that notebook programs were
/// told to look in.
///
/// # Errors
/// A folder is not known or cannot be written.
pub fn install(
    place: &Place,
    home: Option<&Path>,
    data: Option<&Path>,
) -> Result<PathBuf, InstallError> {
    let root = match (place, data, home) {
        (Place::Prefix(prefix), ..) => prefix.join("share/jupyter"),
        (Place::User, Some(data), _) => data.to_path_buf(),
        (Place::User, None, Some(home)) if cfg!(target_os = "macos") => {
            home.join("Library/Jupyter")
        }
        (Place::User, None, Some(home)) if cfg!(windows) => home.join("AppData/Roaming/jupyter"),
        (Place::User, None, Some(home)) => home.join(".local/share/jupyter"),
        (Place::User, None, None) => return Err(InstallError::NoHome),
    };
    let program = std::env::current_exe().map_err(InstallError::NoProgram)?;
    let folder = root.join("kernels").join(NAME);
    let unwritten = |path: &Path, reason| InstallError::Unwritten {
        path: path.to_path_buf(),
        reason,
    };
    std::fs::create_dir_all(&folder).map_err(|e| unwritten(&folder, e))?;
    let spec = json!({
        "argv": [program.to_string_lossy(), "kernel", "run", "{connection_file}"],
        "display_name": "plugread",
        "language": "plugread",
        "interrupt_mode": "message",
        "env": { BOUND: BOUND_BYTES },
        "metadata": {},
    });
    let file = folder.join("kernel.json");
    let text = format!("{spec:#}\n");
    crate::whole::write(&file, text.as_bytes()).map_err(|e| unwritten(&file, e))?;
    Ok(folder)
}
