//! What Linux tells of this process (proc(5)).

use std::fs;

/// Clock ticks per second of proc(5); 100 on every Linux that Rust's standard library runs on
/// (USER_HZ, time(7)).
const TICKS_PER_S: f64 = 100.0;

/// A look at the process.
#[derive(Debug, Clone, Copy)]
pub(super) struct Process {
    /// Resident memory.
    pub(super) resident_bytes: i64,
    /// Open files and sockets.
    pub(super) open_files: i64,
    /// User and system time.
    pub(super) processor_s: f64,
}

/// `None` where there is no such file system.
pub(super) fn look() -> Option<Process> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let stat = fs::read_to_string("/proc/self/stat").ok()?;
    Some(Process {
        resident_bytes: resident(&status)?,
        open_files: i64::try_from(fs::read_dir("/proc/self/fd").ok()?.count()).ok()?,
        processor_s: processor(&stat)?,
    })
}

/// `VmRSS:   12345 kB`.
fn resident(status: &str) -> Option<i64> {
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:"))?;
    let kilobytes: i64 = line.split_whitespace().next()?.parse().ok()?;
    Some(kilobytes * 1024)
}

/// Fields 14 and 15, utime and stime; the name in field 2 may hold anything, so counting begins
/// behind its last bracket.
fn processor(stat: &str) -> Option<f64> {
    let (_, rest) = stat.rsplit_once(')')?;
    let mut fields = rest.split_whitespace().skip(11);
    let mut ticks = || fields.next()?.parse::<f64>().ok();
    Some((ticks()? + ticks()?) / TICKS_PER_S)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_linux_writes() {
        assert_eq!(
            resident("Name:\tbaybook\nVmRSS:\t   12 kB\n"),
            Some(12 * 1024)
        );
        // The form of proc_pid_stat(5); a name with a bracket and spaces.
        let stat = "7 (a ) b) S 1 7 7 0 -1 4194304 100 0 0 0 250 50 0 0 20 0 4 0 99 1 1";
        assert_eq!(processor(stat), Some(3.0));
        assert_eq!(processor(""), None);
    }
}
