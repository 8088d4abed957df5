//! Devices, pipes, links and permissions.

use std::fs;
use std::path::Path;

use super::Wanted::{Partly, Refused};
use super::{fault, good};

#[cfg(unix)]
#[test]
fn devices_pipes_and_links() {
    use std::os::unix::fs::symlink;
    use std::process::Command;

    let folder = tempfile::tempdir().expect("a throwaway folder");
    let mut faults = Vec::new();
    faults.extend(fault(
        "an empty device",
        Path::new("/dev/null"),
        &Refused(""),
    ));
    let link = folder.path().join("link.csv");
    symlink(folder.path().join("gone.csv"), &link).expect("a link");
    faults.extend(fault("a link to nothing", &link, &Refused("no such file")));
    let looped = folder.path().join("loop.csv");
    symlink(&looped, &looped).expect("a link");
    faults.extend(fault("a link to itself", &looped, &Refused("")));
    for (name, bytes, wanted) in [
        ("a pipe with a log", good(400), Partly(400, "")),
        ("a pipe with nothing", String::new(), Refused("empty")),
    ] {
        let pipe = folder.path().join(format!("{}.csv", bytes.len()));
        let made = Command::new("mkfifo").arg(&pipe).status();
        assert!(made.is_ok_and(|m| m.success()), "mkfifo");
        let writer = pipe.clone();
        let writer = std::thread::spawn(move || fs::write(writer, bytes));
        faults.extend(fault(name, &pipe, &wanted));
        drop(writer);
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// A device that never ends must not eat the memory.
#[cfg(target_os = "linux")]
#[test]
fn an_endless_device_is_refused() {
    let fault = fault("an endless device", Path::new("/dev/zero"), &Refused(""));
    assert!(fault.is_none(), "{fault:?}");
}

#[cfg(unix)]
#[test]
fn a_file_without_permission() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().expect("a throwaway folder");
    let file = folder.path().join("locked.csv");
    fs::write(&file, good(20)).expect("the file");
    fs::set_permissions(&file, fs::Permissions::from_mode(0o000)).expect("permissions");
    if fs::read(&file).is_ok() {
        eprintln!("skipped: this user may read everything");
        return;
    }
    let fault = fault("no permission", &file, &Refused("permission"));
    assert!(fault.is_none(), "{fault:?}");
}
