//! People who leave, devices that are revoked, sessions that end on all nodes at once, and links to
//! choose a new password.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{index, key, refers};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // One column per statement: SQLite takes no more.
        for (table, column) in [
            // The row stays, because entries of the log name it.
            ("user", big_integer_null("removed_at_ms")),
            ("device", big_integer_null("revoked_at_ms")),
            // What the browser says it runs on, in a few words.
            ("device", text_null("label")),
            // Must somebody else than the signer countersign? 1 when so.
            ("shop", integer("two_people").default(0).take()),
        ] {
            let alter = Table::alter().table(table).add_column(column).take();
            manager.alter_table(alter).await?;
        }
        manager
            .create_table(
                Table::create()
                    .table("session")
                    .col(text("shop_id"))
                    // The family of its refresh tokens.
                    .col(text("session_id"))
                    .col(text("user_id"))
                    .col(big_integer("begun_at_ms"))
                    .col(big_integer_null("ended_at_ms"))
                    // 1 when somebody ended it on purpose: coming back to it is then no alarm.
                    .col(integer("taken_back").default(0).take())
                    .primary_key(&mut key(&["shop_id", "session_id"]))
                    .foreign_key(&mut refers(
                        "session_user",
                        ("session", &["shop_id", "user_id"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(index("session_person", "session", &["shop_id", "user_id"]))
            .await?;
        // A ticket tells which device it is for; a session may see several.
        manager
            .create_table(
                Table::create()
                    .table("session_device")
                    .col(text("shop_id"))
                    .col(text("session_id"))
                    .col(text("device_id"))
                    .primary_key(&mut key(&["shop_id", "session_id", "device_id"]))
                    .foreign_key(&mut refers(
                        "session_device_session",
                        ("session_device", &["shop_id", "session_id"]),
                        ("session", &["shop_id", "session_id"]),
                    ))
                    .take(),
            )
            .await?;
        // Whoever is signed in stays so.
        manager
            .get_connection()
            .execute_unprepared(
                "INSERT INTO session (shop_id, session_id, user_id, begun_at_ms) \
                 SELECT shop_id, family, user_id, MIN(issued_at_ms) FROM refresh_token \
                 WHERE revoked_at_ms IS NULL GROUP BY shop_id, family, user_id",
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("reset_link")
                    .col(text("shop_id"))
                    .col(text("reset_id"))
                    .col(text("user_id"))
                    .col(binary("token_hash"))
                    .col(text("made_by"))
                    .col(big_integer("created_at_ms"))
                    .col(big_integer("expires_at_ms"))
                    .col(big_integer_null("used_at_ms"))
                    .primary_key(&mut key(&["shop_id", "reset_id"]))
                    .foreign_key(&mut refers(
                        "reset_link_user",
                        ("reset_link", &["shop_id", "user_id"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(index("reset_link_token", "reset_link", &["token_hash"]))
            .await
    }
}
