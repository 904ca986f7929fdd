//! Why the car is as it is: modes, causes, pulls, movements between stages.
//!
//! Millimetres; angles in degrees on the way out. All from a solution that is there already: nothing
//! is solved again. This file refuses to know how a cause is chosen.

mod evidence;
mod causes;
mod modes;
mod changes;
mod pulls;
mod next;
pub(super) mod say;

use indexmap::IndexMap;

use super::network::Built;
use crate::adjust::Solution;
use crate::damage::{Spot, Structure, find};
use crate::ids::{MemberId, PointId};
use crate::job::{Job, Side};
use crate::result::JobResult;
use changes::Moves;

/// Fills in what the quick solution leaves out.
pub(super) fn explain(job: &Job, built: &Built, solution: &Solution, result: &mut JobResult) {
    let names = Names::new(job);
    let structure = names.structure(job);
    let moves = Moves::new(job, built, solution);
    result.changes = moves.told(job);
    let mut causes = Vec::new();
    for stage in 0..job.stages.len() {
        let evidence = evidence::of_stage(job, built, solution, &names, stage);
        let found = find(&structure, &evidence, causes::blow(job).as_ref());
        let out = &mut result.stages[stage];
        out.modes = modes::of_stage(job, built, solution, &structure, stage);
        out.causes = found
            .iter()
            .map(|found| causes::told(job, &names, &structure, found))
            .collect();
        let sprung = pulls::sprung(job, &moves, stage);
        out.pulls = pulls::of_stage(&names, &structure, &found, &sprung);
        causes = found;
    }
    result.next = next::readings(job, built, solution, &names, &structure, &causes);
}

/// Points and members by number, and back.
pub(super) struct Names {
    points: IndexMap<PointId, ()>,
    members: IndexMap<MemberId, ()>,
}

impl Names {
    fn new(job: &Job) -> Self {
        Self {
            points: job.points.keys().map(|id| (id.clone(), ())).collect(),
            members: job.members.keys().map(|id| (id.clone(), ())).collect(),
        }
    }

    fn point(&self, id: &PointId) -> Option<usize> {
        self.points.get_index_of(id)
    }

    fn point_id(&self, point: usize) -> &PointId {
        let (id, ()) = self
            .points
            .get_index(point)
            .expect("numbers come from here");
        id
    }

    fn member_id(&self, member: usize) -> &MemberId {
        let (id, ()) = self
            .members
            .get_index(member)
            .expect("numbers come from here");
        id
    }

    fn structure(&self, job: &Job) -> Structure {
        let spots = job
            .points
            .iter()
            .map(|(id, point)| Spot {
                place: super::network::target(job, id).unwrap_or(point.place_mm),
                side: match point.side {
                    Side::Left => -1,
                    Side::Right => 1,
                    Side::Centre => 0,
                },
                member: point
                    .member
                    .as_ref()
                    .and_then(|m| self.members.get_index_of(m)),
                mirror: point.mirror.as_ref().and_then(|m| self.point(m)),
            })
            .collect();
        let carried_by = job
            .members
            .values()
            .map(|member| {
                let carriers = member.carried_by.iter();
                carriers
                    .filter_map(|m| self.members.get_index_of(m))
                    .collect()
            })
            .collect();
        Structure::new(spots, carried_by)
    }
}
