//! The readings of a stage as they stand: counting, suspect, replaced or set aside.
//!
//! Nothing is ever erased, so every reading has a line. This file refuses to know words.

use shared::ids::{PointId, ReadingId, StageId};
use shared::job::{Job, Reading};
use shared::result::JobResult;

/// How a reading stands.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Standing {
    /// It counts.
    Counts,
    /// It counts, but the others contradict it.
    Suspect,
    /// It counts, but cannot be told from a suspect and waits for a further reading.
    Waits,
    /// A later reading corrects it.
    Replaced {
        /// Who took the later one.
        by: String,
    },
    /// A person left it out.
    SetAside {
        /// Why.
        why: String,
        /// Who.
        by: String,
    },
}

/// One reading and how it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The reading.
    pub reading: Reading,
    /// How it stands.
    pub standing: Standing,
}

/// The readings of a stage, newest first.
#[must_use]
pub fn lines(job: &Job, result: Option<&JobResult>, stage: &StageId) -> Vec<Line> {
    job.readings
        .iter()
        .rev()
        .filter(|reading| reading.stage == *stage)
        .map(|reading| line(job, result, reading))
        .collect()
}

/// The readings of a stage that touch one of these points, newest first.
#[must_use]
pub fn behind(
    job: &Job,
    result: Option<&JobResult>,
    stage: &StageId,
    points: &[PointId],
) -> Vec<Line> {
    let mut lines = lines(job, result, stage);
    lines.retain(|line| line.reading.taken.points().any(|id| points.contains(id)));
    lines
}

/// One reading and how it stands, by identifier.
#[must_use]
pub fn of(job: &Job, result: Option<&JobResult>, id: &ReadingId) -> Option<Line> {
    let reading = job.readings.iter().find(|reading| reading.id == *id)?;
    Some(line(job, result, reading))
}

fn line(job: &Job, result: Option<&JobResult>, reading: &Reading) -> Line {
    Line {
        reading: reading.clone(),
        standing: standing(job, result, reading),
    }
}

fn standing(job: &Job, result: Option<&JobResult>, reading: &Reading) -> Standing {
    if let Some(aside) = &reading.set_aside {
        return Standing::SetAside {
            why: aside.why.clone(),
            by: aside.by.clone(),
        };
    }
    let later = job
        .readings
        .iter()
        .find(|other| other.replaces.as_ref() == Some(&reading.id));
    if let Some(later) = later {
        return Standing::Replaced {
            by: later.by.clone(),
        };
    }
    let Some(result) = result else {
        return Standing::Counts;
    };
    if result.suspects.iter().any(|s| s.reading == reading.id) {
        return Standing::Suspect;
    }
    match result.readings.get(&reading.id) {
        Some(found) if !found.used => Standing::Waits,
        _ => Standing::Counts,
    }
}

/// What one tap of 'undo' leaves out: the newest reading of the stage that still counts.
#[must_use]
pub fn last_counting(job: &Job, stage: &StageId) -> Option<Reading> {
    job.counting_readings()
        .filter(|reading| reading.stage == *stage)
        .last()
        .cloned()
}
