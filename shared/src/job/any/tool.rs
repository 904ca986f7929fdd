//! Any tool, with the checks of a laser.

use proptest::prelude::*;

use super::{pick, text};
use crate::job::{Tool, ToolKind};
use crate::tools::Check;

pub(super) fn tool() -> impl Strategy<Value = Tool> {
    let kind = pick(&[ToolKind::Tape, ToolKind::Device3d, ToolKind::Other]);
    let checked = || {
        let at = pick(&["", "2026-03-02T09:14:00Z"]);
        proptest::option::of((-5.0..=5.0, 0.001..=1.0, at, text()).prop_map(
            |(mm_per_m, sigma_mm_per_m, at, by)| Check {
                mm_per_m,
                sigma_mm_per_m,
                at: at.to_owned(),
                by,
            },
        ))
    };
    let spread = 0.0..=1_000.0;
    (kind, text(), spread.clone(), spread, checked(), checked()).prop_map(
        |(kind, label, sigma_mm, per_m_mm, level_check, plumb_check)| Tool {
            kind,
            label,
            sigma_mm,
            per_m_mm,
            level_check,
            plumb_check,
        },
    )
}
