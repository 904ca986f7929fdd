//! What the readings of each job say, projected from its document and its statements: the job, its
//! stages, points, pairs and sign-offs. All of it can be rebuilt from them at any time.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{index, key, refers};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

/// A table of rows below `job_state`.
fn below(
    name: &'static str,
    reference: &'static str,
    columns: &[&'static str],
) -> TableCreateStatement {
    let mut table = Table::create();
    table
        .table(name)
        .col(text("shop_id"))
        .col(text("doc_id"))
        .primary_key(&mut key(&[&["shop_id", "doc_id"], columns].concat()))
        .foreign_key(&mut refers(
            reference,
            (name, &["shop_id", "doc_id"]),
            ("job_state", &["shop_id", "doc_id"]),
        ));
    table
}

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("job_state")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    // Projected with the changes 1..=seq, and with so many statements.
                    .col(big_integer("seq"))
                    .col(big_integer("statements"))
                    // Which way of projecting made the rows; an older one is projected again.
                    .col(big_integer("form"))
                    .col(text_null("vin"))
                    .col(big_integer("readings"))
                    .col(big_integer("suspects"))
                    .col(big_integer("last_activity_at_ms"))
                    .col(text("last_by"))
                    .primary_key(&mut key(&["shop_id", "doc_id"]))
                    .foreign_key(&mut refers(
                        "job_state_doc",
                        ("job_state", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                below("stage_state", "stage_state_job", &["stage"])
                    .col(text("stage"))
                    // Its place in the job, from 0.
                    .col(big_integer("place"))
                    .col(text("label"))
                    .col(big_integer("readings"))
                    .col(big_integer("within"))
                    .col(big_integer("outside"))
                    .col(big_integer("unproven"))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                below(
                    "point_state",
                    "point_state_job",
                    &["stage", "point", "axis"],
                )
                .col(text("stage"))
                .col(text("point"))
                // x, y or z; only what was measured has a row.
                .col(text("axis"))
                .col(double("value_mm"))
                .col(double("sigma_mm"))
                .col(double_null("deviation_mm"))
                .col(double_null("deviation_sigma_mm"))
                .col(double_null("conformity"))
                .col(text_null("verdict"))
                .take(),
            )
            .await?;
        manager
            .create_table(
                below(
                    "pair_state",
                    "pair_state_job",
                    &["stage", "left_point", "right_point", "quantity"],
                )
                .col(text("stage"))
                .col(text("left_point"))
                .col(text("right_point"))
                // As the result calls it: right_higher_mm and so on; only what was measured.
                .col(text("quantity"))
                .col(double("value_mm"))
                .col(double("sigma_mm"))
                .col(double_null("target_mm"))
                .col(double_null("conformity"))
                .col(text_null("verdict"))
                .take(),
            )
            .await?;
        manager
            .create_table(
                below("sign_off_state", "sign_off_state_job", &["digest"])
                    .col(text("digest"))
                    // For a countersignature: the sign-off that it joins.
                    .col(text_null("joins"))
                    .col(text("stage"))
                    .col(text("user_id"))
                    .col(text("name"))
                    .col(big_integer("at_ms"))
                    // Readings that the job has got since.
                    .col(big_integer("readings_since"))
                    // Is the book still exactly what was signed?
                    .col(boolean("is_current"))
                    .take(),
            )
            .await?;
        // The measurement history of a body across jobs.
        manager
            .create_index(index("job_state_vin", "job_state", &["shop_id", "vin"]))
            .await
    }
}
