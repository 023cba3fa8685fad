use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::cli::failure::Failure;
use crate::cli::files::read_record;
use crate::quantity::Amount;
use crate::record::Record;
use crate::report::trend::Taken;
use crate::walk::Event;

/// How deep below a folder records are looked for.
const DEPTH: usize = 4;

/// All readings of all records, in the order of time.
pub(super) fn all_taken(paths: &[PathBuf]) -> Result<Vec<Taken>, Failure> {
    let mut records = Vec::new();
    for path in paths {
        let before = records.len();
        find(path, DEPTH, &mut records);
        if records.len() == before {
            return Err(Failure::message(format!("{} holds no record", path.display())));
        }
    }
    // The same record, named twice, is one.
    records.sort();
    records.dedup();
    let mut taken = Vec::new();
    for record in records {
        taken.extend(of_record(&record)?);
    }
    taken.sort_by(|a, b| (a.at, &a.record).cmp(&(b.at, &b.record)));
    Ok(taken)
}

fn find(folder: &Path, depth: usize, found: &mut Vec<PathBuf>) {
    if Record::exists(folder) {
        found.push(folder.to_owned());
        return;
    }
    let Some(depth) = depth.checked_sub(1) else { return };
    // What cannot be read holds no record for whoever looks.
    let inside = std::fs::read_dir(folder).into_iter().flatten().flatten();
    for entry in inside.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir())) {
        find(&entry.path(), depth, found);
    }
}

/// A step that was read again counts once, as it was read last; what was read after the work was opened again counts anew.
fn of_record(record: &Path) -> Result<Vec<Taken>, Failure> {
    let (entries, _) = read_record(record)?;
    let mut last: BTreeMap<(usize, String), Taken> = BTreeMap::new();
    let mut round = 0;
    // What was written at the step `tool` of a procedure and thing is what its readings were made with.
    let mut tools: BTreeMap<String, String> = BTreeMap::new();
    for entry in entries {
        match entry.event {
            Event::Noted { step, text, .. } => {
                if let Some(of) = step.as_str().strip_suffix("/tool") {
                    tools.insert(of.to_owned(), text.trim().to_owned());
                }
            }
            Event::Reopened { .. } => round += 1,
            Event::Read { step, reading, judgement, .. } => {
                // Over-range is no number that could stand in a chart.
                let Some(value) = reading.value else { continue };
                let taken = Taken {
                    at: entry.at,
                    record: record.display().to_string(),
                    by: entry.by,
                    instrument: judgement.instrument,
                    tool: step.as_str().rsplit_once('/').and_then(|(of, _)| tools.get(of)).cloned(),
                    value: Amount::new(value, reading.dimension),
                    digit: Amount::new(reading.resolution, reading.dimension),
                    step,
                };
                last.insert((round, taken.step.as_str().to_owned()), taken);
            }
            _ => {}
        }
    }
    Ok(last.into_values().collect())
}

/// Whether the last words of a step's name are those of a pattern; `*` stands for any one of them.
pub(super) fn fits(pattern: &str, step: &str) -> bool {
    let words: Vec<&str> = pattern.trim().trim_matches('/').split('/').collect();
    let parts: Vec<&str> = step.split('/').collect();
    words.len() <= parts.len() && words.iter().rev().zip(parts.iter().rev()).all(|(w, p)| *w == "*" || w == p)
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn a_pattern_names_the_last_words_of_a_step() {
        for pattern in ["torque", "G1/torque", "ground/G1/torque", "*/torque", "ground/*/torque", "ground/G1/*"] {
            assert!(fits(pattern, "ground/G1/torque"), "{pattern}");
        }
        for pattern in ["G1", "orque", "G2/torque", "*", "x/ground/G1/torque", ""] {
            assert_eq!(fits(pattern, "ground/G1/torque"), pattern == "*", "{pattern}");
        }
    }
}
