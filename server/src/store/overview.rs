//! The owner's overview: every job of a shop with what its readings say, from projected rows alone.

use std::collections::HashMap;

use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, QueryOrder};
use shared::wire::{JobOverview, SignOffOverview, StageOverview};

use super::entity::{doc, job_line, job_state, sign_off_state, stage_state, user};
use super::{Store, StoreError};
use crate::clock::rfc3339;

/// What is known of all jobs of a shop, by document id.
struct Known {
    seqs: HashMap<String, i64>,
    states: HashMap<String, job_state::Model>,
    stages: HashMap<String, stage_state::Model>,
    sign_offs: HashMap<String, Vec<sign_off_state::Model>>,
    names: HashMap<String, String>,
}

impl Store {
    /// The jobs of a shop, the one with the latest activity first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn overview(&self, shop: &str) -> Result<Vec<JobOverview>, StoreError> {
        let lines = job_line::Entity::find()
            .filter(job_line::Column::ShopId.eq(shop))
            .order_by_desc(job_line::Column::LastActivityAtMs)
            .order_by_asc(job_line::Column::DocId)
            .all(&self.read)
            .await?;
        let mut known = self.known(shop).await?;
        Ok(lines.into_iter().map(|line| known.job(line)).collect())
    }

    /// Of each job the latest stage that has verdicts, else the latest; by document id.
    pub(super) async fn telling_stages(
        &self,
        shop: &str,
    ) -> Result<HashMap<String, StageOverview>, StoreError> {
        let mut telling: HashMap<String, StageOverview> = HashMap::new();
        for row in self.stages(shop).await? {
            let doc = row.doc_id.clone();
            let found = stage(row);
            let says_nothing = found.within + found.outside + found.unproven == 0;
            if !says_nothing || !telling.contains_key(&doc) {
                telling.insert(doc, found);
            }
        }
        Ok(telling)
    }

    /// The stages of all jobs of a shop, each job's in their order.
    async fn stages(&self, shop: &str) -> Result<Vec<stage_state::Model>, StoreError> {
        Ok(stage_state::Entity::find()
            .filter(stage_state::Column::ShopId.eq(shop))
            .order_by_asc(stage_state::Column::Place)
            .all(&self.read)
            .await?)
    }

    async fn known(&self, shop: &str) -> Result<Known, StoreError> {
        let docs = doc::Entity::find()
            .filter(doc::Column::ShopId.eq(shop))
            .all(&self.read)
            .await?;
        let states = job_state::Entity::find()
            .filter(job_state::Column::ShopId.eq(shop))
            .all(&self.read)
            .await?;
        let stages = self.stages(shop).await?;
        let sign_offs = sign_off_state::Entity::find()
            .filter(sign_off_state::Column::ShopId.eq(shop))
            .order_by_asc(sign_off_state::Column::AtMs)
            .order_by_asc(sign_off_state::Column::Digest)
            .all(&self.read)
            .await?;
        let people = user::Entity::find()
            .filter(user::Column::ShopId.eq(shop))
            .all(&self.read)
            .await?;
        let mut by_job: HashMap<String, Vec<sign_off_state::Model>> = HashMap::new();
        for row in sign_offs {
            by_job.entry(row.doc_id.clone()).or_default().push(row);
        }
        Ok(Known {
            seqs: docs.into_iter().map(|row| (row.doc_id, row.seq)).collect(),
            states: by_doc(states, |row| row.doc_id.clone()),
            // The last of each job stays.
            stages: by_doc(stages, |row| row.doc_id.clone()),
            sign_offs: by_job,
            names: people
                .into_iter()
                .map(|row| (row.user_id, row.name))
                .collect(),
        })
    }
}

fn by_doc<T>(rows: Vec<T>, doc: impl Fn(&T) -> String) -> HashMap<String, T> {
    rows.into_iter().map(|row| (doc(&row), row)).collect()
}

impl Known {
    fn job(&mut self, line: job_line::Model) -> JobOverview {
        let state = self.states.remove(&line.doc_id);
        let seq = self.seqs.get(&line.doc_id);
        let sign_offs = self.sign_offs.remove(&line.doc_id).unwrap_or_default();
        let count = |of: fn(&job_state::Model) -> i64| state.as_ref().map_or(0, of).cast_unsigned();
        JobOverview {
            readings: count(|state| state.readings),
            suspects: count(|state| state.suspects),
            stage: self.stages.remove(&line.doc_id).map(stage),
            last_activity: rfc3339(line.last_activity_at_ms),
            last_by: state
                .as_ref()
                .and_then(|state| self.names.get(&state.last_by).cloned()),
            sign_off: sign_off(sign_offs),
            is_up_to_date: state.as_ref().map(|state| &state.seq) == seq,
            vin: state.and_then(|state| state.vin),
            book: line.doc_id,
            number: line.number,
            vehicle: line.vehicle,
        }
    }
}

fn stage(row: stage_state::Model) -> StageOverview {
    StageOverview {
        id: row.stage,
        label: row.label,
        readings: row.readings.cast_unsigned(),
        within: row.within.cast_unsigned(),
        outside: row.outside.cast_unsigned(),
        unproven: row.unproven.cast_unsigned(),
    }
}

/// The latest sign-off, with those who joined it; the rows come in order of time.
fn sign_off(rows: Vec<sign_off_state::Model>) -> Option<SignOffOverview> {
    let latest = rows.iter().rfind(|row| row.joins.is_none())?;
    let joined = rows
        .iter()
        .filter(|row| row.joins.as_ref() == Some(&latest.digest));
    Some(SignOffOverview {
        stage: latest.stage.clone(),
        by: latest.name.clone(),
        at: rfc3339(latest.at_ms),
        digest: latest.digest.clone(),
        countersigned_by: joined.map(|row| row.name.clone()).collect(),
        readings_since: latest.readings_since.cast_unsigned(),
        is_current: latest.is_current,
    })
}
