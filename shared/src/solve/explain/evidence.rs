//! What was measured of a stage, as rows over the displacements of points.
//!
//! Millimetres. Against a sheet each axis of a point is a row of its own; by symmetry alone a pair
//! gives the difference of its sides, and a point in the middle its offset. The spread of undamaged
//! bodies is part of the covariance: what is within it is no displacement.

use super::Names;
use crate::adjust::{LinearForm, Solution};
use crate::damage::{Evidence, Row, Term};
use crate::ids::PointId;
use crate::job::{Job, Side};
use crate::solve::network::{Built, designed_gap, one, target, target_spread};
use crate::solve::quantities::{Quantity, pair_quantities};
use crate::verdict::judge;

/// Rows of one stage with their covariance.
pub(super) fn of_stage(
    job: &Job,
    built: &Built,
    solution: &Solution,
    names: &Names,
    stage: usize,
) -> Evidence {
    let mut gathered = Gathered {
        job,
        built,
        solution,
        rows: Vec::new(),
        forms: Vec::new(),
        bodies: Vec::new(),
    };
    for (id, point) in &job.points {
        if target(job, id).is_some() {
            gathered.on_sheet(names, stage, id);
            continue;
        }
        match (point.side, &point.mirror) {
            (Side::Left, Some(mirror)) if target(job, mirror).is_none() => {
                gathered.pair(names, stage, id, mirror);
            }
            (Side::Centre, _) => gathered.centre(names, stage, id),
            _ => {}
        }
    }
    let mut covariance = solution.covariance(&gathered.forms);
    for (row, body) in gathered.bodies.iter().enumerate() {
        covariance[row][row] += body * body;
    }
    Evidence {
        rows: gathered.rows,
        covariance,
    }
}

struct Gathered<'a> {
    job: &'a Job,
    built: &'a Built,
    solution: &'a Solution,
    rows: Vec<Row>,
    forms: Vec<LinearForm>,
    /// Spread of undamaged bodies, per row.
    bodies: Vec<f64>,
}

impl Gathered<'_> {
    fn on_sheet(&mut self, names: &Names, stage: usize, id: &PointId) {
        let Some(aim) = target(self.job, id) else {
            return;
        };
        for (axis, aim) in aim.into_iter().enumerate() {
            let spread = target_spread(self.job, id, axis);
            self.single(names, stage, id, axis, aim, spread, spread);
        }
    }

    fn centre(&mut self, names: &Names, stage: usize, id: &PointId) {
        let build = self.job.settings.build_spread_mm;
        self.single(names, stage, id, 1, 0.0, 0.0, build);
    }

    #[expect(clippy::too_many_arguments, reason = "one row, each part of it once")]
    fn single(
        &mut self,
        names: &Names,
        stage: usize,
        id: &PointId,
        axis: usize,
        aim: f64,
        judged_spread: f64,
        body: f64,
    ) {
        let Some(block) = self.built.place(self.job, id, stage) else {
            return;
        };
        let Some(point) = names.point(id) else { return };
        let quantity = Quantity {
            form: one(block, axis),
            trust: self.built.trust_on(&[id], axis),
        };
        let terms = vec![Term {
            point,
            axis,
            factor: 1.0,
        }];
        self.row(quantity, &[id], terms, aim, judged_spread, body);
    }

    fn pair(&mut self, names: &Names, stage: usize, left: &PointId, right: &PointId) {
        let Some((l, r)) = names.point(left).zip(names.point(right)) else {
            return;
        };
        let Some([height, centre, length, _]) =
            pair_quantities(self.job, self.built, stage, left, right)
        else {
            return;
        };
        let gap = designed_gap(self.job, left, right);
        let build = self.job.settings.build_spread_mm;
        let terms = |axis, of_left, of_right| {
            vec![
                Term {
                    point: l,
                    axis,
                    factor: of_left,
                },
                Term {
                    point: r,
                    axis,
                    factor: of_right,
                },
            ]
        };
        let pair = [left, right];
        let (aim, half) = ([-gap[0], gap[1] / 2.0, -gap[2]], build / 2.0);
        self.row(height, &pair, terms(2, -1.0, 1.0), aim[2], 0.0, build);
        self.row(centre, &pair, terms(1, 0.5, 0.5), aim[1], 0.0, half);
        self.row(length, &pair, terms(0, -1.0, 1.0), aim[0], 0.0, build);
    }

    fn row(
        &mut self,
        quantity: Quantity,
        points: &[&PointId],
        terms: Vec<Term>,
        aim: f64,
        judged_spread: f64,
        body: f64,
    ) {
        if !quantity.measured(self.solution) {
            return;
        }
        let value = self.solution.value(&quantity.form) - aim;
        let sigma = self
            .solution
            .variance(&quantity.form)
            .sqrt()
            .hypot(judged_spread);
        let tolerance = self.job.tolerance_of(points);
        let (_, verdict) = judge(value, sigma, tolerance, self.job.settings.conformity);
        self.rows.push(Row {
            terms,
            value,
            verdict,
        });
        self.forms.push(quantity.form);
        self.bodies.push(body.max(0.1));
    }
}
