//! Files that once broke the reading: each must end clearly, and soon.

use std::fs;
use std::time::Duration;

use crate::bad_kinds::unclear;
use crate::support::{home, plugread_within, text};

const PATIENCE: Duration = Duration::from_secs(20);

#[test]
fn files_that_once_broke_the_reading() {
    let folder = home().join("tests/data/regressions");
    let mut files: Vec<_> = fs::read_dir(folder)
        .expect("the folder")
        .map(|e| e.expect("a file").path())
        .collect();
    files.sort();
    files.retain(|path| path.extension().is_none_or(|e| e != "md"));
    assert!(!files.is_empty());
    let mut faults = Vec::new();
    for file in files {
        for verb in ["channels", "review"] {
            match plugread_within(&[verb, &file.to_string_lossy()], PATIENCE) {
                None => faults.push(format!("{verb} {}: it hangs", file.display())),
                Some(out) => {
                    let said = text(&out.stderr);
                    faults.extend(
                        unclear(&out)
                            .map(|what| format!("{verb} {}: {what}: {said}", file.display())),
                    );
                    if said.contains(".rhai") {
                        faults.push(format!("{verb} {}: a script fails: {said}", file.display()));
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
