//! How much memory there is to use, where the system tells: what is free, what the control groups of this process and
//! those above them leave, and what the shell's limits (`ulimit -v`, `ulimit -d`) leave.
//!
//! The shell's limits count what is reserved, not what is touched. Each thread of the dense kernels (private-gemm-x86,
//! which faer calls) reserves twice the last cache at once and touches little of it, and the allocator an arena; so their
//! share is set aside before anything else.

use std::fmt;
use std::fs;
use std::path::{Component, Path, PathBuf};

use crate::case::Complaint;

/// What sets the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bound {
    /// The machine's memory that is free.
    Free,
    /// A control group.
    ControlGroup,
    /// The limit of the address space.
    AddressSpace,
    /// The limit of the data.
    Data,
}

impl fmt::Display for Bound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Free => "the memory that is free",
            Self::ControlGroup => "the memory that the control group of this process has left",
            Self::AddressSpace => "the address space that is left (ulimit -v)",
            Self::Data => "the data memory that is left (ulimit -d)",
        })
    }
}

/// Memory that may be used, and what bounds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Available {
    pub(crate) bytes: u64,
    pub(crate) bound: Bound,
}

impl Available {
    /// What the solver may plan with. It knows its factors; matrix, fields and figures come on top. Where the machine's
    /// memory runs short it is slow; at a hard limit the program would be ended, so that the share is smaller.
    pub(crate) fn for_solver(&self) -> u64 {
        let share = if self.bound == Bound::Free { 0.85 } else { 0.4 };
        (share * self.bytes as f64) as u64
    }
}

/// Memory that some threads may use now. `None` where the system does not say.
pub(crate) fn available(threads: usize) -> Option<Available> {
    System { root: Path::new("/") }.available(threads)
}

/// Refuses to begin where not even a coarse tooth would fit.
///
/// # Errors
/// A complaint with the numbers.
pub(crate) fn enough(threads: usize) -> Result<(), Complaint> {
    match available(threads) {
        Some(Available { bytes, bound }) if bound != Bound::Free && bytes < LEAST_BYTES => {
            Err(Complaint::plain(format!(
                "{bound} is too little: beside what {threads} threads reserve {} MB are left, and {} MB are needed at \
                 least; a higher limit or fewer --threads would do",
                bytes / 1_000_000,
                LEAST_BYTES / 1_000_000
            )))
        }
        _ => Ok(()),
    }
}

/// Least memory to begin with, bytes: a tooth between rigid bodies at the default size takes 0.1 GB.
const LEAST_BYTES: u64 = 150_000_000;
/// Address space of the program itself, bytes.
const PROGRAM_BYTES: u64 = 200_000_000;
/// Address space of the stack of a thread and of its arena, bytes.
const THREAD_BYTES: u64 = 150_000_000;
/// The same of data memory: only what may be written counts.
const THREAD_DATA_BYTES: u64 = 20_000_000;
/// Last cache where the system does not tell, bytes.
const CACHE_BYTES: u64 = 64 << 20;

/// Most memory this program has used so far, MB. `None` where the system does not say.
pub(crate) fn peak_mb() -> Option<f64> {
    let text = fs::read_to_string("/proc/self/status").ok()?;
    field_kib(&text, "VmHWM:").map(|bytes| bytes as f64 / 1e6)
}

/// The files in which a system tells, below some directory.
struct System<'a> {
    root: &'a Path,
}

impl System<'_> {
    fn available(&self, threads: usize) -> Option<Available> {
        let free = self.text("proc/meminfo").and_then(|text| field_kib(&text, "MemAvailable:"));
        let [space, data] = self.shell_limits(threads as u64);
        [
            (free, Bound::Free),
            (self.control_groups(), Bound::ControlGroup),
            (space, Bound::AddressSpace),
            (data, Bound::Data),
        ]
        .into_iter()
        .filter_map(|(bytes, bound)| Some(Available { bytes: bytes?, bound }))
        .min_by_key(|available| available.bytes)
    }

    fn text(&self, path: impl AsRef<Path>) -> Option<String> {
        fs::read_to_string(self.root.join(path)).ok()
    }

    /// What the soft limits of address space and of data leave beside what is in use and what threads reserve.
    fn shell_limits(&self, threads: u64) -> [Option<u64>; 2] {
        let (Some(limits), Some(status)) = (self.text("proc/self/limits"), self.text("proc/self/status"))
        else {
            return [None; 2];
        };
        let kernels = 2 * self.last_cache();
        [
            ("Max address space", PROGRAM_BYTES + threads * (kernels + THREAD_BYTES)),
            ("Max data size", threads * (kernels + THREAD_DATA_BYTES)),
        ]
        .map(|(limit, reserved)| {
            let line = limits.lines().find_map(|line| line.strip_prefix(limit))?;
            let most: u64 = line.split_whitespace().next()?.parse().ok()?;
            Some(most.saturating_sub(field_kib(&status, "VmRSS:")? + reserved))
        })
    }

    /// Size of the last cache, bytes.
    fn last_cache(&self) -> u64 {
        let size = self.text("sys/devices/system/cpu/cpu0/cache/index3/size");
        let kib = size.and_then(|text| text.trim().strip_suffix('K')?.parse::<u64>().ok());
        kib.map_or(CACHE_BYTES, |kib| 1024 * kib)
    }

    /// What the tightest of the control groups of this process and of those above them leaves, of both versions.
    fn control_groups(&self) -> Option<u64> {
        let (groups, mounts) = (self.text("proc/self/cgroup")?, self.text("proc/self/mountinfo")?);
        let mut least = None;
        for line in groups.lines() {
            // hierarchy number : controllers (none in version 2) : path
            let mut parts = line.splitn(3, ':').skip(1);
            let (Some(controllers), Some(path)) = (parts.next(), parts.next()) else { continue };
            let version = match controllers {
                "" => &V2,
                _ if controllers.split(',').any(|c| c == "memory") => &V1,
                _ => continue,
            };
            for (top, mounted) in mounts.lines().filter_map(|line| mount(line, version)) {
                // A container sees its own group as the top; what it does not see it cannot ask.
                let below = Path::new(path).strip_prefix(&top).unwrap_or(Path::new(""));
                let below =
                    if below.components().any(|c| c == Component::ParentDir) { Path::new("") } else { below };
                for group in below.ancestors() {
                    let left = self.left(&mounted.join(group), version);
                    least = [least, left].into_iter().flatten().min();
                }
            }
        }
        least
    }

    /// What one group leaves: its limit less what it uses, but for cached files, which give way.
    fn left(&self, group: &Path, version: &Version) -> Option<u64> {
        let inside = group.strip_prefix("/").unwrap_or(group);
        let number = |name: &str| self.text(inside.join(name))?.trim().parse::<u64>().ok();
        let limit = version.limits.iter().filter_map(|name| number(name)).min()?;
        let used = number(version.used).unwrap_or(0);
        let cached = self.text(inside.join("memory.stat")).and_then(|text| {
            let line = text.lines().find_map(|line| line.strip_prefix(version.cached))?;
            line.trim().parse::<u64>().ok()
        });
        Some(limit.saturating_sub(used.saturating_sub(cached.unwrap_or(0))))
    }
}

/// The names of one version of control groups.
struct Version {
    file_system: &'static str,
    /// What the mount's options must hold.
    option: Option<&'static str>,
    limits: &'static [&'static str],
    used: &'static str,
    cached: &'static str,
}

const V2: Version = Version {
    file_system: "cgroup2",
    option: None,
    limits: &["memory.max", "memory.high"],
    used: "memory.current",
    cached: "inactive_file ",
};
const V1: Version = Version {
    file_system: "cgroup",
    option: Some("memory"),
    limits: &["memory.limit_in_bytes"],
    used: "memory.usage_in_bytes",
    cached: "total_inactive_file ",
};

/// The group at the top of a mounted hierarchy and where it is mounted, from a line of `mountinfo`.
fn mount(line: &str, version: &Version) -> Option<(PathBuf, PathBuf)> {
    let (place, kind) = line.split_once(" - ")?;
    let mut kind = kind.split(' ');
    let (file_system, _source, options) = (kind.next()?, kind.next()?, kind.next().unwrap_or_default());
    let fits = version.option.is_none_or(|option| options.split(',').any(|o| o == option));
    if file_system != version.file_system || !fits {
        return None;
    }
    let mut place = place.split(' ').skip(3);
    Some((PathBuf::from(place.next()?), PathBuf::from(place.next()?)))
}

fn field_kib(text: &str, name: &str) -> Option<u64> {
    let line = text.lines().find(|line| line.starts_with(name))?;
    line.split_whitespace().nth(1)?.parse::<u64>().ok().map(|kib| 1024 * kib)
}

#[cfg(test)]
#[path = "memory/tests.rs"]
mod tests;
