//! How much memory there is to use, where the system tells.

use std::fs;

/// Bytes that may be used: what is free now, within the limit of a control group. `None` where the system
/// does not say.
pub(crate) fn available_bytes() -> Option<u64> {
    let free = fs::read_to_string("/proc/meminfo").ok().and_then(|text| field_kib(&text, "MemAvailable:"))?;
    let read = |path: &str| fs::read_to_string(path).ok().and_then(|text| text.trim().parse::<u64>().ok());
    let group = read("/sys/fs/cgroup/memory.max")
        .map(|limit| limit.saturating_sub(read("/sys/fs/cgroup/memory.current").unwrap_or(0)));
    Some(group.map_or(free, |g| g.min(free)))
}

/// Most memory this program has used so far, MB. `None` where the system does not say.
pub(crate) fn peak_mb() -> Option<f64> {
    let text = fs::read_to_string("/proc/self/status").ok()?;
    field_kib(&text, "VmHWM:").map(|bytes| bytes as f64 / 1e6)
}

fn field_kib(text: &str, name: &str) -> Option<u64> {
    let line = text.lines().find(|line| line.starts_with(name))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kib| 1024 * kib)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_read_in_bytes() {
        assert_eq!(field_kib("MemTotal: 7 kB\nMemAvailable:   12 kB\n", "MemAvailable:"), Some(12 * 1024));
        assert_eq!(field_kib("MemTotal: 7 kB", "MemAvailable:"), None);
    }
}
