//! Sign-offs and countersignatures, and the keys that sign them.
//!
//! The log keeps a statement for ever, so nothing comes in that a verifier would find out: the
//! signature, the signer, and every claim, computed again from the record.

use actix_web::{HttpResponse, web};
use shared::ids::{DeviceId, ShopId, UserId};
use shared::proof::statement::{Deed, SignedStatement, possession};
use shared::proof::{PublicKey, Signature};
use shared::wire::{KeepStatement, KeptStatement, Me, RegisterKey, Role, SignedJob};

use crate::App;
use crate::auth::{Member, Owner};
use crate::error::Failure;
use crate::live::statement::{Ruling, rule};
use crate::store::DocKey;

/// `POST /api/keys`.
///
/// # Errors
/// Names the field that is not of the form, the device that is not this member's, or the key that is
/// somebody else's.
pub async fn register_key(
    app: web::Data<App>,
    member: Member,
    body: web::Json<RegisterKey>,
) -> Result<HttpResponse, Failure> {
    let RegisterKey {
        device,
        key,
        signature,
    } = body.into_inner();
    let me = member.me();
    let key: PublicKey = parse(&key, "key")?;
    let signature: Signature = parse(&signature, "signature")?;
    let device: DeviceId = parse(&device, "device")?;
    let (shop, user): (ShopId, UserId) = (parse(&me.shop, "shop")?, parse(&me.user, "user")?);
    if !key.verifies(possession(&shop, &user, &device).as_bytes(), &signature) {
        return Err(Failure::bad_request("signature"));
    }
    let now_ms = app.config.clock.now_ms();
    app.store
        .register_key(me, device.as_str(), &key, now_ms)
        .await?;
    Ok(HttpResponse::NoContent().finish())
}

fn parse<T: std::str::FromStr>(text: &str, field: &'static str) -> Result<T, Failure> {
    text.parse().map_err(|_| Failure::bad_request(field))
}

/// `POST /api/statements`.
///
/// # Errors
/// Names the field that is not of the form, not the signer's to say, or does not follow from the book,
/// and the readings where nothing of the stage counts.
pub async fn keep_statement(
    app: web::Data<App>,
    member: Member,
    body: web::Json<KeepStatement>,
) -> Result<HttpResponse, Failure> {
    let me = member.me();
    let signed = SignedStatement::parse(&body.text)
        .map_err(|error| Failure::bad_request(error.to_string()))?;
    check_signer(me, &signed)?;
    let statement = signed.statement();
    if statement.deed == Deed::SignOff && statement.claims.readings == 0 {
        return Err(Failure::bad_request("claims.readings"));
    }
    let key = DocKey {
        shop: me.shop.clone(),
        doc: statement.job.to_string(),
    };
    match rule(&app.live, &key, statement.clone()).await? {
        Ruling::Follows => {}
        Ruling::NoBook => return Err(Failure::not_found()),
        Ruling::NotThere(why) => return Err(Failure::bad_request(why)),
        Ruling::Differs(difference) => {
            return Err(Failure::bad_request(format!("claims.{}", difference.field)));
        }
    }
    let now_ms = app.config.clock.now_ms();
    app.store.keep_statement(me, &signed, now_ms).await?;
    app.live.due.add(&key, None);
    Ok(HttpResponse::Created().json(KeptStatement {
        digest: signed.digest().to_string(),
        code: signed.code(),
    }))
}

/// The statement is this member's own, over this shop.
fn check_signer(me: &Me, signed: &SignedStatement) -> Result<(), Failure> {
    signed
        .verify()
        .map_err(|_| Failure::bad_request("signature"))?;
    let statement = signed.statement();
    if statement.shop.as_str() != me.shop {
        return Err(Failure::bad_request("shop"));
    }
    if statement.who.user.as_str() != me.user || statement.who.name != me.name {
        return Err(Failure::not_allowed("who"));
    }
    if matches!(statement.deed, Deed::Countersign { .. }) && me.role != Role::Owner {
        return Err(Failure::not_allowed("owner"));
    }
    Ok(())
}

/// `GET /api/jobs/{book}/statements`.
///
/// # Errors
/// When the database fails; a book without statements has an empty list.
pub async fn list_statements(
    app: web::Data<App>,
    member: Member,
    book: web::Path<String>,
) -> Result<web::Json<Vec<String>>, Failure> {
    let key = DocKey {
        shop: member.me().shop.clone(),
        doc: book.into_inner(),
    };
    Ok(web::Json(app.store.statements(&key).await?))
}

/// `GET /api/signed-jobs`.
///
/// # Errors
/// When the database fails.
pub async fn list_signed_jobs(
    app: web::Data<App>,
    owner: Owner,
) -> Result<web::Json<Vec<SignedJob>>, Failure> {
    Ok(web::Json(app.store.signed_jobs(&owner.me().shop).await?))
}
