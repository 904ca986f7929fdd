//! One stage of the drawing.

use indexmap::IndexMap;
use shared::ids::PointId;

use crate::measuring::drawing::{Spot, Window, fitting_exaggeration};

/// One stage of the drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// The points.
    pub spots: IndexMap<PointId, Spot>,
    /// Drawn below, for comparison?
    pub faint: bool,
}

/// One exaggeration for all of them, at which the longest displacement of any fits on the paper.
#[must_use]
pub fn fitting_all(layers: &[Layer], paper: Window) -> f64 {
    let fitting = layers
        .iter()
        .map(|layer| fitting_exaggeration(&layer.spots, paper));
    fitting.reduce(f64::min).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measuring::drawing::{View, spots};

    #[test]
    fn the_stage_that_is_further_off_decides() {
        let job = shared::demo::job();
        let result = shared::solve::solve(&job);
        let places = job.points.values().map(|point| point.place_mm);
        let paper = Window::around(places.map(|place| View::Plan.project(place)));
        let layer = |stage: usize| Layer {
            spots: spots(&job, Some(&result.stages[stage])),
            faint: false,
        };
        let alone = [0, 1].map(|stage| fitting_all(&[layer(stage)], paper));
        let wild = alone[0].min(alone[1]);
        assert!(alone[0].max(alone[1]) > wild, "{alone:?}");
        for pair in [[0, 1], [1, 0]] {
            assert_eq!(fitting_all(&pair.map(layer), paper), wild);
        }
    }
}
