//! Rows projected from books and statements: what lists, searches and the owner's overview read.
//!
//! A book's rows are replaced as a whole, and only by rows of the same or a later book. Nothing else
//! is ever read from them: they can all be deleted and made again.

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, ConnectionTrait, DatabaseTransaction, EntityTrait, QueryFilter,
    QueryOrder, Statement,
};
use shared::verdict::Verdict;

use super::docs::{ROWS_PER_INSERT, project, without_nul};
use super::entity::{
    doc, doc_change, job_state, pair_state, point_state, sign_off_state, stage_state, tool_state,
};
use super::{DocKey, Projection, Store, StoreError};

/// The way of projecting. Raise it when rows are made differently, so that old ones are made again.
const FORM: i64 = 2;

/// Everything that is projected from one book.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Projected {
    /// The shop's number for the job.
    pub number: String,
    /// The vehicle in words.
    pub vehicle: String,
    /// Vehicle identification number.
    pub vin: Option<String>,
    /// Readings, whether they count or not.
    pub readings: i64,
    /// Readings that the others contradict.
    pub suspects: i64,
    /// Stages in the job's order.
    pub stages: Vec<StageRow>,
    /// Coordinates that were measured.
    pub points: Vec<PointRow>,
    /// Quantities of pairs that were measured.
    pub pairs: Vec<PairRow>,
    /// Sign-offs and countersignatures.
    pub sign_offs: Vec<SignOffRow>,
    /// Tools.
    pub tools: Vec<ToolRow>,
}

/// One stage.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct StageRow {
    pub stage: String,
    pub place: i64,
    pub label: String,
    /// Readings that count.
    pub readings: i64,
    pub within: i64,
    pub outside: i64,
    pub unproven: i64,
}

/// One coordinate of a point in a stage, millimetres.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PointRow {
    pub stage: String,
    pub point: String,
    /// x, y or z.
    pub axis: &'static str,
    pub value_mm: f64,
    pub sigma_mm: f64,
    pub deviation_mm: Option<f64>,
    pub deviation_sigma_mm: Option<f64>,
    pub conformity: Option<f64>,
    pub verdict: Option<Verdict>,
}

/// One quantity of a pair in a stage, millimetres.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct PairRow {
    pub stage: String,
    pub left: String,
    pub right: String,
    /// As the result calls it.
    pub quantity: &'static str,
    pub value_mm: f64,
    pub sigma_mm: f64,
    pub target_mm: Option<f64>,
    pub conformity: Option<f64>,
    pub verdict: Option<Verdict>,
}

/// One sign-off or countersignature.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct SignOffRow {
    pub digest: String,
    /// For a countersignature: the sign-off that it joins.
    pub joins: Option<String>,
    pub stage: String,
    pub user: String,
    pub name: String,
    pub at_ms: i64,
    /// Readings that the job has got since.
    pub readings_since: i64,
    /// Is the book still exactly what was signed?
    pub is_current: bool,
}

/// One tool.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub struct ToolRow {
    pub tool: String,
    /// As the job file calls it.
    pub kind: &'static str,
    pub label: String,
    /// The newer of its checks.
    pub checked_at_ms: Option<i64>,
}

fn verdict(verdict: Option<Verdict>) -> Option<String> {
    let word = match verdict? {
        Verdict::Within => "within",
        Verdict::Outside => "outside",
        Verdict::Unproven => "unproven",
    };
    Some(word.to_owned())
}

/// Numbers that are none are not kept.
fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|value| value.is_finite())
}

/// Takes the row of the book, unless it is of a later book; it is locked until the end then.
async fn take_row(
    transaction: &DatabaseTransaction,
    key: &DocKey,
    (seq, statements): (i64, i64),
    projected: &Projected,
) -> Result<Option<i64>, StoreError> {
    // Changes may have come since; the rows tell of the one that they were made with.
    let last = doc_change::Entity::find_by_id((key.shop.clone(), key.doc.clone(), seq))
        .one(transaction)
        .await?
        .ok_or(StoreError::Corrupt("sequence of a document"))?;
    let row = job_state::ActiveModel {
        shop_id: Set(key.shop.clone()),
        doc_id: Set(key.doc.clone()),
        seq: Set(0),
        statements: Set(0),
        form: Set(0),
        vin: Set(None),
        readings: Set(0),
        suspects: Set(0),
        last_activity_at_ms: Set(0),
        last_by: Set(String::new()),
    };
    job_state::Entity::insert(row)
        .on_conflict(
            OnConflict::columns([job_state::Column::ShopId, job_state::Column::DocId])
                .do_nothing()
                .to_owned(),
        )
        .exec_without_returning(transaction)
        .await?;
    let vin = projected.vin.as_deref().map(without_nul);
    let taken = job_state::Entity::update_many()
        .col_expr(job_state::Column::Seq, Expr::value(seq))
        .col_expr(job_state::Column::Statements, Expr::value(statements))
        .col_expr(job_state::Column::Form, Expr::value(FORM))
        .col_expr(job_state::Column::Vin, Expr::value(vin))
        .col_expr(job_state::Column::Readings, Expr::value(projected.readings))
        .col_expr(job_state::Column::Suspects, Expr::value(projected.suspects))
        .col_expr(
            job_state::Column::LastActivityAtMs,
            Expr::value(last.received_at_ms),
        )
        .col_expr(job_state::Column::LastBy, Expr::value(last.user_id))
        .filter(job_state::Column::ShopId.eq(&key.shop))
        .filter(job_state::Column::DocId.eq(&key.doc))
        .filter(job_state::Column::Seq.lte(seq))
        .filter(job_state::Column::Statements.lte(statements))
        .filter(job_state::Column::Form.lte(FORM))
        .exec(transaction)
        .await?;
    Ok((taken.rows_affected == 1).then_some(last.received_at_ms))
}

/// Replaces the rows of one table that belong to a book.
macro_rules! replace {
    ($transaction:expr, $key:expr, $table:ident, $rows:expr) => {{
        $table::Entity::delete_many()
            .filter($table::Column::ShopId.eq(&$key.shop))
            .filter($table::Column::DocId.eq(&$key.doc))
            .exec($transaction)
            .await?;
        let rows: Vec<$table::ActiveModel> = $rows.collect();
        for some in rows.chunks(ROWS_PER_INSERT) {
            $table::Entity::insert_many(some.iter().cloned())
                .exec_without_returning($transaction)
                .await?;
        }
    }};
}

async fn replace_rows(
    transaction: &DatabaseTransaction,
    key: &DocKey,
    projected: Projected,
) -> Result<(), StoreError> {
    let (shop, doc) = (|| Set(key.shop.clone()), || Set(key.doc.clone()));
    let text = |text: String| Set(without_nul(&text));
    let stages = projected.stages.into_iter();
    replace!(
        transaction,
        key,
        stage_state,
        stages.map(|row| stage_state::ActiveModel {
            shop_id: shop(),
            doc_id: doc(),
            stage: text(row.stage),
            place: Set(row.place),
            label: text(row.label),
            readings: Set(row.readings),
            within: Set(row.within),
            outside: Set(row.outside),
            unproven: Set(row.unproven),
        })
    );
    let points = projected.points.into_iter();
    replace!(
        transaction,
        key,
        point_state,
        points
            .filter(|row| row.value_mm.is_finite() && row.sigma_mm.is_finite())
            .map(|row| point_state::ActiveModel {
                shop_id: shop(),
                doc_id: doc(),
                stage: text(row.stage),
                point: text(row.point),
                axis: Set(row.axis.to_owned()),
                value_mm: Set(row.value_mm),
                sigma_mm: Set(row.sigma_mm),
                deviation_mm: Set(finite(row.deviation_mm)),
                deviation_sigma_mm: Set(finite(row.deviation_sigma_mm)),
                conformity: Set(finite(row.conformity)),
                verdict: Set(verdict(row.verdict)),
            })
    );
    let pairs = projected.pairs.into_iter();
    replace!(
        transaction,
        key,
        pair_state,
        pairs
            .filter(|row| row.value_mm.is_finite() && row.sigma_mm.is_finite())
            .map(|row| pair_state::ActiveModel {
                shop_id: shop(),
                doc_id: doc(),
                stage: text(row.stage),
                left_point: text(row.left),
                right_point: text(row.right),
                quantity: Set(row.quantity.to_owned()),
                value_mm: Set(row.value_mm),
                sigma_mm: Set(row.sigma_mm),
                target_mm: Set(finite(row.target_mm)),
                conformity: Set(finite(row.conformity)),
                verdict: Set(verdict(row.verdict)),
            })
    );
    let sign_offs = projected.sign_offs.into_iter();
    replace!(
        transaction,
        key,
        sign_off_state,
        sign_offs.map(|row| sign_off_state::ActiveModel {
            shop_id: shop(),
            doc_id: doc(),
            digest: Set(row.digest),
            joins: Set(row.joins),
            stage: text(row.stage),
            user_id: Set(row.user),
            name: text(row.name),
            at_ms: Set(row.at_ms),
            readings_since: Set(row.readings_since),
            is_current: Set(row.is_current),
        })
    );
    let tools = projected.tools.into_iter();
    replace!(
        transaction,
        key,
        tool_state,
        tools.map(|row| tool_state::ActiveModel {
            shop_id: shop(),
            doc_id: doc(),
            tool: text(row.tool),
            kind: Set(row.kind.to_owned()),
            label: text(row.label),
            checked_at_ms: Set(row.checked_at_ms),
        })
    );
    Ok(())
}

impl Store {
    /// Keeps the rows of a book as it was at a sequence and with so many statements; false when
    /// later ones are there.
    ///
    /// # Errors
    /// When the database fails; the rows are as before then.
    pub async fn keep_rows(
        &self,
        key: &DocKey,
        seq: i64,
        statements: i64,
        projected: Projected,
    ) -> Result<bool, StoreError> {
        let transaction = self.begin().await?;
        let versions = (seq, statements);
        let Some(last_ms) = take_row(&transaction, key, versions, &projected).await? else {
            return Ok(false);
        };
        let line = Projection {
            number: projected.number.clone(),
            vehicle: projected.vehicle.clone(),
        };
        replace_rows(&transaction, key, projected).await?;
        // The line is written with each batch; here only when it is just as old, or missing. The lock
        // on the book's row lets no batch in between.
        let newest = doc::Entity::update_many()
            .col_expr(doc::Column::Seq, Expr::value(seq))
            .filter(doc::Column::ShopId.eq(&key.shop))
            .filter(doc::Column::DocId.eq(&key.doc))
            .filter(doc::Column::Seq.eq(seq))
            .exec(&transaction)
            .await?;
        if newest.rows_affected == 1 {
            project(&transaction, key, &line, last_ms).await?;
        }
        transaction.commit().await?;
        Ok(true)
    }

    /// Some books whose rows are missing, older than the book or its statements, or made in an
    /// older way.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn docs_with_old_rows(&self) -> Result<Vec<DocKey>, StoreError> {
        let backend = self.read.get_database_backend();
        let question = format!(
            r#"SELECT d.shop_id, d.doc_id FROM doc d
            LEFT JOIN job_state s ON s.shop_id = d.shop_id AND s.doc_id = d.doc_id
            LEFT JOIN (
                SELECT shop_id, doc_id, COUNT(*) AS kept FROM statement GROUP BY shop_id, doc_id
            ) t ON t.shop_id = d.shop_id AND t.doc_id = d.doc_id
            WHERE d.seq > 0 AND (
                s.seq IS NULL OR s.seq < d.seq OR s.form < {FORM}
                OR s.statements < COALESCE(t.kept, 0)
            )
            ORDER BY d.shop_id, d.doc_id"#
        );
        let rows = self
            .read
            .query_all_raw(Statement::from_string(backend, question))
            .await?;
        rows.iter()
            .map(|row| {
                Ok(DocKey {
                    shop: row.try_get_by_index(0)?,
                    doc: row.try_get_by_index(1)?,
                })
            })
            .collect()
    }

    /// Every book of every shop.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn all_docs(&self) -> Result<Vec<DocKey>, StoreError> {
        let docs = doc::Entity::find()
            .filter(doc::Column::Seq.gt(0))
            .order_by_asc(doc::Column::ShopId)
            .order_by_asc(doc::Column::DocId)
            .all(&self.read)
            .await?;
        Ok(docs
            .into_iter()
            .map(|row| DocKey {
                shop: row.shop_id,
                doc: row.doc_id,
            })
            .collect())
    }
}
