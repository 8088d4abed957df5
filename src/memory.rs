//! Memory, where the machine tells.

use std::fs;

/// Bytes of memory that this process holds.
pub fn held() -> Option<u64> {
    figure("/proc/self/status", "VmRSS:")
}

/// Bytes that one piece of work may take: half of what is free, 4 GB at most, 256 MB at least.
pub fn allowance() -> Option<u64> {
    let free = figure("/proc/meminfo", "MemAvailable:")?;
    Some((free / 2).clamp(256 << 20, 4 << 30))
}

/// A figure in kB of a file of the system, in bytes.
fn figure(file: &str, name: &str) -> Option<u64> {
    let text = fs::read_to_string(file).ok()?;
    let line = text.lines().find_map(|l| l.strip_prefix(name))?;
    let kilobytes: u64 = line.trim().trim_end_matches("kB").trim().parse().ok()?;
    Some(kilobytes * 1024)
}
