//! Outcomes that are kept, so that a long count can go on where it stopped.

use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::HashSet;
use std::fs::{self, File, OpenOptions};
use std::hash::Hash;
use std::io::Write;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Those of `plan` that the file has, by their key (none: not of this version), and the rest made now and kept there.
/// `named`: what they are, for the progress; the file, a JSON value a line; and whether to forget what it has.
///
/// # Errors
/// When the file cannot be written.
pub fn kept<T, K>(
    named: (&str, &Path, bool),
    plan: &[K],
    key: impl Fn(&T) -> Option<K>,
    make: impl Fn(K) -> T + Sync,
) -> Result<Vec<T>, String>
where
    T: Serialize + DeserializeOwned + Send,
    K: Copy + Eq + Hash + Sync,
{
    let (name, file, fresh) = named;
    let told = |error: std::io::Error| format!("{}: {error}", file.display());
    if fresh && file.exists() {
        fs::remove_file(file).map_err(told)?;
    }
    let planned: HashSet<K> = plan.iter().copied().collect();
    let mut done = HashSet::new();
    let mut outcomes: Vec<T> = fs::read_to_string(file)
        .unwrap_or_default()
        .lines()
        .filter_map(|line| serde_json::from_str::<T>(line).ok())
        .filter(|it| key(it).is_some_and(|key| planned.contains(&key) && done.insert(key)))
        .collect();
    let left: Vec<K> = plan.iter().copied().filter(|key| !done.contains(key)).collect();
    let out =
        Mutex::new((OpenOptions::new().create(true).append(true).open(file).map_err(told)?, Vec::new()));
    let next = AtomicUsize::new(0);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                while let Some(key) = left.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let outcome = make(*key);
                    let mut out = out.lock().unwrap_or_else(PoisonError::into_inner);
                    keep(&mut out.0, &outcome);
                    out.1.push(outcome);
                    eprint!("\r{name}: {} of {} ", done.len() + out.1.len(), plan.len());
                }
            });
        }
    });
    if !left.is_empty() {
        eprintln!();
    }
    outcomes.extend(out.into_inner().unwrap_or_else(PoisonError::into_inner).1);
    Ok(outcomes)
}

/// An outcome that cannot be kept is still counted.
fn keep(file: &mut File, outcome: &impl Serialize) {
    if let Ok(line) = serde_json::to_string(outcome) {
        let _ = file.write_all((line + "\n").as_bytes());
    }
}
