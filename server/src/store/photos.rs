//! Files of photos, in pieces, and uploads that go on where they stopped.
//!
//! A file belongs to one book, under its digest. An upload's pieces become the file's in the
//! transaction that brings the last one, once the caller's look at the whole has found nothing
//! wrong; so there is no photo that is half here, and an answer that was lost can be asked for
//! again. This file refuses to know what a photo looks like.

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, ConnectionTrait, DatabaseTransaction, DbErr, EntityTrait,
    ExprTrait, QueryFilter, QueryOrder, QuerySelect,
};
use shared::proof::Digest;

use super::entity::{doc, photo, photo_piece, photo_upload};
use super::{DocKey, Store, StoreError};

/// Size of a piece.
const PIECE_BYTES: usize = 256 * 1024;
/// An upload may rest so long; then what came of it is thrown away.
pub const UPLOAD_RESTS_MS: i64 = 24 * 60 * 60 * 1000;
/// All photos of a job: about a thousand of a phone's.
pub const MAX_JOB_BYTES: i64 = 256 << 20;
/// What a shop may send in a day: about eight thousand photos of a phone's.
pub const MAX_DAY_BYTES: i64 = 2 << 30;
const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// An upload to be begun.
#[derive(Debug, Clone)]
pub struct NewUpload {
    /// Fresh id.
    pub upload: String,
    /// Which book.
    pub key: DocKey,
    /// Who sends it.
    pub user: String,
    /// SHA-256 of the file.
    pub digest: Digest,
    /// Its media type.
    pub media: &'static str,
    /// Its size.
    pub bytes: i64,
}

/// An upload as it stands.
#[derive(Debug, Clone)]
pub struct Upload {
    /// Which book.
    pub key: DocKey,
    /// SHA-256 of the file.
    pub digest: Digest,
    /// Its media type.
    pub media: String,
    /// Its size.
    pub bytes: i64,
    /// How much of it is here.
    pub received: i64,
    /// When what is here will be thrown away.
    pub expires_at_ms: i64,
    id: String,
}

/// A file that is here whole.
#[derive(Debug, Clone)]
pub struct PhotoFile {
    /// Its media type.
    pub media: String,
    /// The file.
    pub bytes: Vec<u8>,
}

impl Store {
    /// Begins an upload. An unfinished one by the same person of the same file ends: its phone has
    /// forgotten it.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such book, [`StoreError::Full`] when the job or
    /// the shop's day has no room for it.
    pub async fn begin_upload(&self, new: NewUpload, now_ms: i64) -> Result<Upload, StoreError> {
        use photo_upload::Column;
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &new.key.shop).await?;
        let known = doc::Entity::find_by_id((new.key.shop.clone(), new.key.doc.clone()));
        if known.one(&transaction).await?.is_none() {
            return Err(StoreError::Missing);
        }
        let of_shop = Column::ShopId.eq(&new.key.shop);
        let forgotten = of_shop.clone().and(
            Column::ExpiresAtMs.lte(now_ms).or(Column::DocId
                .eq(&new.key.doc)
                .and(Column::Digest.eq(new.digest.0.to_vec()))
                .and(Column::SentBy.eq(&new.user))
                .and(is_open())),
        );
        let gone = photo_upload::Entity::find().filter(forgotten);
        for upload in gone.all(&transaction).await? {
            let keeps_pieces = upload.received == upload.bytes;
            forget(&transaction, &new.key.shop, &upload.upload_id, keeps_pieces).await?;
        }
        let here = |filter: Expr| {
            let all = photo::Entity::find().select_only();
            let all = all.filter(photo::Column::ShopId.eq(&new.key.shop));
            all.filter(filter)
                .expr(sum(photo::Column::Bytes.into_expr()))
        };
        let coming = |filter: Expr| {
            let all = photo_upload::Entity::find().select_only();
            let all = all.filter(of_shop.clone()).filter(is_open());
            all.filter(filter).expr(sum(Column::Bytes.into_expr()))
        };
        let own = photo::Column::DocId.eq(&new.key.doc);
        let in_job: Option<Option<i64>> = here(own).into_tuple().one(&transaction).await?;
        let own = Column::DocId.eq(&new.key.doc);
        let to_job: Option<Option<i64>> = coming(own).into_tuple().one(&transaction).await?;
        let today = photo::Column::ReceivedAtMs.gt(now_ms - DAY_MS);
        let in_day: Option<Option<i64>> = here(today).into_tuple().one(&transaction).await?;
        let any = Expr::value(true);
        let to_day: Option<Option<i64>> = coming(any).into_tuple().one(&transaction).await?;
        let total = |counts: [Option<Option<i64>>; 2]| {
            let counted: i64 = counts.into_iter().flatten().flatten().sum();
            counted.saturating_add(new.bytes)
        };
        if total([in_job, to_job]) > MAX_JOB_BYTES {
            return Err(StoreError::Full("job"));
        }
        if total([in_day, to_day]) > MAX_DAY_BYTES {
            return Err(StoreError::Full("day"));
        }
        let expires_at_ms = now_ms + UPLOAD_RESTS_MS;
        photo_upload::Entity::insert(photo_upload::ActiveModel {
            shop_id: Set(new.key.shop.clone()),
            upload_id: Set(new.upload.clone()),
            doc_id: Set(new.key.doc.clone()),
            digest: Set(new.digest.0.to_vec()),
            media: Set(new.media.to_owned()),
            bytes: Set(new.bytes),
            received: Set(0),
            sent_by: Set(new.user),
            expires_at_ms: Set(expires_at_ms),
        })
        .exec_without_returning(&transaction)
        .await?;
        transaction.commit().await?;
        Ok(Upload {
            key: new.key,
            digest: new.digest,
            media: new.media.to_owned(),
            bytes: new.bytes,
            received: 0,
            expires_at_ms,
            id: new.upload,
        })
    }

    /// An upload of this person to this book.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is none, or it has rested too long.
    pub async fn upload(
        &self,
        key: &DocKey,
        user: &str,
        upload: &str,
        now_ms: i64,
    ) -> Result<Upload, StoreError> {
        let known = photo_upload::Entity::find_by_id((key.shop.clone(), upload.to_owned()));
        let known = known.one(&self.read).await?;
        let known = known.filter(|upload| {
            upload.doc_id == key.doc && upload.sent_by == user && upload.expires_at_ms > now_ms
        });
        let known = known.ok_or(StoreError::Missing)?;
        let digest: [u8; 32] = known
            .digest
            .try_into()
            .map_err(|_| StoreError::Corrupt("digest of a photo"))?;
        Ok(Upload {
            key: key.clone(),
            digest: Digest(digest),
            media: known.media,
            bytes: known.bytes,
            received: known.received,
            expires_at_ms: known.expires_at_ms,
            id: known.upload_id,
        })
    }

    /// Keeps what came next of an upload; with the last of it the file is there, when `look` at the
    /// whole finds nothing wrong with it.
    ///
    /// # Errors
    /// [`StoreError::Taken`] when somebody else has moved it on, [`StoreError::Unfit`] with the word
    /// of `look`; nothing of the upload is kept then.
    pub async fn extend_upload(
        &self,
        upload: &mut Upload,
        bytes: &[u8],
        now_ms: i64,
        look: impl FnOnce(&[u8]) -> Result<(), &'static str>,
    ) -> Result<(), StoreError> {
        use photo_upload::Column;
        let (shop, at) = (&upload.key.shop, upload.received);
        let received = at + i64::try_from(bytes.len()).unwrap_or(i64::MAX / 2);
        if received > upload.bytes {
            return Err(StoreError::Unfit("Upload-Length"));
        }
        let transaction = self.begin().await?;
        let expires_at_ms = now_ms + UPLOAD_RESTS_MS;
        let moved = photo_upload::Entity::update_many()
            .col_expr(Column::Received, Expr::value(received))
            .col_expr(Column::ExpiresAtMs, Expr::value(expires_at_ms))
            .filter(Column::ShopId.eq(shop))
            .filter(Column::UploadId.eq(&upload.id))
            .filter(Column::Received.eq(at))
            .exec(&transaction)
            .await?;
        if moved.rows_affected == 0 {
            return Err(StoreError::Taken("Upload-Offset".into()));
        }
        add_pieces(&transaction, upload, bytes).await?;
        if received == upload.bytes {
            let whole = whole(&transaction, shop, &upload.id).await?;
            if let Err(what) = look(&whole) {
                forget(&transaction, shop, &upload.id, false).await?;
                transaction.commit().await?;
                return Err(StoreError::Unfit(what));
            }
            finish(&transaction, upload, now_ms).await?;
        }
        transaction.commit().await?;
        upload.received = received;
        upload.expires_at_ms = expires_at_ms;
        Ok(())
    }

    /// The file of a photo.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when it is not here.
    pub async fn photo(&self, key: &DocKey, digest: &Digest) -> Result<PhotoFile, StoreError> {
        let id = (key.shop.clone(), key.doc.clone(), digest.0.to_vec());
        let known = photo::Entity::find_by_id(id).one(&self.read).await?;
        let known = known.ok_or(StoreError::Missing)?;
        let bytes = whole(&self.read, &key.shop, &known.upload_id).await?;
        match i64::try_from(bytes.len()) == Ok(known.bytes) {
            true => Ok(PhotoFile {
                media: known.media,
                bytes,
            }),
            false => Err(StoreError::Corrupt("photo")),
        }
    }

    /// The digests of a book's photos that are here.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn photos(&self, key: &DocKey) -> Result<Vec<Digest>, StoreError> {
        let all: Vec<Vec<u8>> = photo::Entity::find()
            .select_only()
            .column(photo::Column::Digest)
            .filter(photo::Column::ShopId.eq(&key.shop))
            .filter(photo::Column::DocId.eq(&key.doc))
            .into_tuple()
            .all(&self.read)
            .await?;
        let digests = all.into_iter().map(|digest| digest.try_into().map(Digest));
        let digests = digests.collect::<Result<_, _>>();
        digests.map_err(|_| StoreError::Corrupt("digest of a photo"))
    }
}

/// Is an upload under way?
fn is_open() -> Expr {
    use photo_upload::Column;
    Expr::col(Column::Received).lt(Expr::col(Column::Bytes))
}

/// A sum as both engines give it: PostgreSQL widens it to a number without end.
fn sum(column: Expr) -> Expr {
    column.sum().cast_as("bigint")
}

/// Adds to the pieces of an upload; all but the last are full, whatever the sizes they came in.
async fn add_pieces(
    transaction: &DatabaseTransaction,
    upload: &Upload,
    mut bytes: &[u8],
) -> Result<(), StoreError> {
    use photo_piece::Column;
    let mut at = usize::try_from(upload.received).map_err(|_| StoreError::Corrupt("upload"))?;
    while !bytes.is_empty() {
        let (number, within) = (at / PIECE_BYTES, at % PIECE_BYTES);
        let number = i64::try_from(number).map_err(|_| StoreError::Corrupt("upload"))?;
        let (now, later) = bytes.split_at(bytes.len().min(PIECE_BYTES - within));
        if within == 0 {
            photo_piece::Entity::insert(photo_piece::ActiveModel {
                shop_id: Set(upload.key.shop.clone()),
                upload_id: Set(upload.id.clone()),
                number: Set(number),
                bytes: Set(now.to_vec()),
            })
            .exec_without_returning(transaction)
            .await?;
        } else {
            let key = (upload.key.shop.clone(), upload.id.clone(), number);
            let piece = photo_piece::Entity::find_by_id(key)
                .one(transaction)
                .await?;
            let piece = piece.filter(|piece| piece.bytes.len() == within);
            let piece = piece.ok_or(StoreError::Corrupt("piece of a photo"))?;
            photo_piece::Entity::update_many()
                .col_expr(Column::Bytes, Expr::value([&piece.bytes, now].concat()))
                .filter(Column::ShopId.eq(&upload.key.shop))
                .filter(Column::UploadId.eq(&upload.id))
                .filter(Column::Number.eq(number))
                .exec(transaction)
                .await?;
        }
        at += now.len();
        bytes = later;
    }
    Ok(())
}

/// Makes the file of an upload the book's, unless the book has it.
async fn finish(
    transaction: &DatabaseTransaction,
    upload: &Upload,
    now_ms: i64,
) -> Result<(), StoreError> {
    use photo::Column;
    let sent_by = photo_upload::Entity::find_by_id((upload.key.shop.clone(), upload.id.clone()))
        .one(transaction)
        .await?
        .map(|upload| upload.sent_by)
        .unwrap_or_default();
    let key = [Column::ShopId, Column::DocId, Column::Digest];
    let inserted = photo::Entity::insert(photo::ActiveModel {
        shop_id: Set(upload.key.shop.clone()),
        doc_id: Set(upload.key.doc.clone()),
        digest: Set(upload.digest.0.to_vec()),
        media: Set(upload.media.clone()),
        bytes: Set(upload.bytes),
        upload_id: Set(upload.id.clone()),
        sent_by: Set(sent_by),
        received_at_ms: Set(now_ms),
    })
    .on_conflict(OnConflict::columns(key).do_nothing().to_owned())
    .exec_without_returning(transaction)
    .await?;
    if inserted == 0 {
        drop_pieces(transaction, &upload.key.shop, &upload.id).await?;
    }
    Ok(())
}

/// Removes an upload; the pieces of a finished one are a file's.
async fn forget(
    transaction: &DatabaseTransaction,
    shop: &str,
    upload: &str,
    keeps_pieces: bool,
) -> Result<(), DbErr> {
    if !keeps_pieces {
        drop_pieces(transaction, shop, upload).await?;
    }
    let key = (shop.to_owned(), upload.to_owned());
    let gone = photo_upload::Entity::delete_by_id(key);
    gone.exec(transaction).await?;
    Ok(())
}

async fn drop_pieces(
    transaction: &DatabaseTransaction,
    shop: &str,
    upload: &str,
) -> Result<(), DbErr> {
    photo_piece::Entity::delete_many()
        .filter(photo_piece::Column::ShopId.eq(shop))
        .filter(photo_piece::Column::UploadId.eq(upload))
        .exec(transaction)
        .await?;
    Ok(())
}

/// All pieces, one after the other.
async fn whole(db: &impl ConnectionTrait, shop: &str, upload: &str) -> Result<Vec<u8>, StoreError> {
    let pieces: Vec<Vec<u8>> = photo_piece::Entity::find()
        .select_only()
        .column(photo_piece::Column::Bytes)
        .filter(photo_piece::Column::ShopId.eq(shop))
        .filter(photo_piece::Column::UploadId.eq(upload))
        .order_by_asc(photo_piece::Column::Number)
        .into_tuple()
        .all(db)
        .await?;
    Ok(pieces.concat())
}
