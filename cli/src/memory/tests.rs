use super::*;

/// A machine that tells what its files hold.
fn machine(files: &[(&str, &str)]) -> tempfile::TempDir {
    let root = tempfile::tempdir().expect("a directory");
    let plain = [
        ("proc/meminfo", "MemTotal:  9000000 kB\nMemAvailable:  8000000 kB\n"),
        ("sys/devices/system/cpu/cpu0/cache/index3/size", "32768K\n"),
        ("proc/self/status", "VmHWM:\t  400000 kB\nVmRSS:\t  100000 kB\n"),
        (
            "proc/self/limits",
            "Limit                     Soft Limit           Hard Limit           Units     \n\
             Max data size             unlimited            unlimited            bytes     \n\
             Max address space         unlimited            unlimited            bytes     \n",
        ),
    ];
    for (path, text) in plain.iter().chain(files) {
        let path = root.path().join(path);
        fs::create_dir_all(path.parent().expect("a parent")).expect("a directory");
        fs::write(path, text).expect("a file");
    }
    root
}

fn of(files: &[(&str, &str)]) -> (u64, Bound) {
    let root = machine(files);
    let available = System { root: root.path() }.available(2).expect("a machine that tells");
    (available.bytes, available.bound)
}

const FREE: (u64, Bound) = (8_192_000_000, Bound::Free);
const V2_MOUNT: &str = "30 23 0:26 / /sys/fs/cgroup rw,nosuid - cgroup2 cgroup2 rw\n";

#[test]
fn a_field_is_read_in_bytes() {
    assert_eq!(field_kib("MemTotal: 7 kB\nMemAvailable:   12 kB\n", "MemAvailable:"), Some(12 * 1024));
    assert_eq!(field_kib("MemTotal: 7 kB", "MemAvailable:"), None);
}

#[test]
fn without_limits_it_is_what_is_free() {
    assert_eq!(of(&[]), FREE);
    let unlimited = [
        ("proc/self/cgroup", "0::/user.slice\n"),
        ("proc/self/mountinfo", V2_MOUNT),
        ("sys/fs/cgroup/user.slice/memory.max", "max\n"),
    ];
    assert_eq!(of(&unlimited), FREE);
}

#[test]
fn a_system_that_says_nothing_sets_no_limit() {
    let root = tempfile::tempdir().expect("a directory");
    assert_eq!(System { root: root.path() }.available(2), None);
}

#[test]
fn limits_of_the_shell_count_less_what_is_used() {
    let limits = |data: &str, space: &str| {
        format!(
            "Max data size             {data}            unlimited            bytes     \n\
             Max address space         {space}            unlimited            bytes     \n"
        )
    };
    // In use 100,000 kB; two threads reserve twice the last cache each.
    let (used, kernels) = (102_400_000, 2 * 2 * (32 << 20));
    let space = limits("unlimited", "2000000000");
    let left = 2_000_000_000 - used - kernels - PROGRAM_BYTES - 2 * THREAD_BYTES;
    assert_eq!(of(&[("proc/self/limits", &space)]), (left, Bound::AddressSpace));
    let data = limits("500000000", "2000000000");
    let left = 500_000_000 - used - kernels - 2 * THREAD_DATA_BYTES;
    assert_eq!(of(&[("proc/self/limits", &data)]), (left, Bound::Data));
    let spent = limits("unlimited", "1000");
    assert_eq!(of(&[("proc/self/limits", &spent)]), (0, Bound::AddressSpace));
}

#[test]
fn the_tightest_of_nested_groups_counts() {
    let nested = |inner: &'static str, outer: &'static str| {
        of(&[
            ("proc/self/cgroup", "0::/batch/job/step\n"),
            ("proc/self/mountinfo", V2_MOUNT),
            ("sys/fs/cgroup/batch/job/step/memory.max", "max\n"),
            ("sys/fs/cgroup/batch/job/step/memory.current", "100\n"),
            ("sys/fs/cgroup/batch/job/memory.max", inner),
            ("sys/fs/cgroup/batch/job/memory.current", "200000000\n"),
            ("sys/fs/cgroup/batch/job/memory.stat", "anon 1\ninactive_file 50000000\n"),
            ("sys/fs/cgroup/batch/memory.max", outer),
            ("sys/fs/cgroup/batch/memory.current", "300000000\n"),
        ])
    };
    assert_eq!(nested("1000000000\n", "max\n"), (850_000_000, Bound::ControlGroup));
    assert_eq!(nested("1000000000\n", "900000000\n"), (600_000_000, Bound::ControlGroup));
    assert_eq!(nested("100000000\n", "max\n"), (0, Bound::ControlGroup));
}

#[test]
fn groups_of_the_first_version_are_read_where_they_are_mounted() {
    let files = [
        ("proc/self/cgroup", "12:cpu,cpuacct:/job\n5:memory:/jobs/7\n1:name=systemd:/x\n0::/\n"),
        (
            "proc/self/mountinfo",
            "33 25 0:29 / /sys/fs/cgroup/cpu,cpuacct rw - cgroup cgroup rw,cpu,cpuacct\n\
             36 25 0:32 / /sys/fs/cgroup/memory rw,nosuid shared:17 - cgroup cgroup rw,memory\n",
        ),
        // Version 1 writes a huge number for no limit.
        ("sys/fs/cgroup/memory/memory.limit_in_bytes", "9223372036854771712\n"),
        ("sys/fs/cgroup/memory/jobs/memory.limit_in_bytes", "700000000\n"),
        ("sys/fs/cgroup/memory/jobs/memory.usage_in_bytes", "300000000\n"),
        ("sys/fs/cgroup/memory/jobs/memory.stat", "cache 1\ntotal_inactive_file 100000000\n"),
        ("sys/fs/cgroup/memory/jobs/7/memory.limit_in_bytes", "600000000\n"),
        ("sys/fs/cgroup/memory/jobs/7/memory.usage_in_bytes", "50000000\n"),
    ];
    assert_eq!(of(&files), (500_000_000, Bound::ControlGroup));
}

#[test]
fn inside_a_container_its_own_group_is_the_top() {
    // The path is that outside; the mount shows the container's group as its root.
    let limits = [
        ("sys/fs/cgroup/memory/memory.limit_in_bytes", "400000000\n"),
        ("sys/fs/cgroup/memory/memory.usage_in_bytes", "100000000\n"),
    ];
    let mounts = "36 25 0:32 /docker/ab /sys/fs/cgroup/memory ro - cgroup cgroup rw,memory\n";
    for path in ["5:memory:/docker/ab\n", "5:memory:/\n", "5:memory:/../../elsewhere\n"] {
        let files = [&[("proc/self/cgroup", path), ("proc/self/mountinfo", mounts)][..], &limits].concat();
        assert_eq!(of(&files), (300_000_000, Bound::ControlGroup), "{path}");
    }
}
