//! Sign-offs on both databases: kept only when they are true and the signer's own, and in the log.

use anyhow::{Context, Result, bail};
use automerge::{ActorId, AutoCommit, Automerge};
use reqwest::StatusCode;
use serde_json::json;
use server::store::Exported;
use shared::book::{self, Intention, Stamp};
use shared::ids::{DeviceId, ShopId, UserId};
use shared::job::{Stage, StageKind};
use shared::proof::bundle::{Bundle, FaultKind};
use shared::proof::leaf::Who;
use shared::proof::statement::{
    Claims, Deed, SignedStatement, Statement, StatementFormat, possession,
};
use shared::proof::{Digest, Seed};
use shared::solve::solve;
use shared::sync::replay::{digest, verify};
use shared::wire::{Code, KeptStatement, Role, SignedJob};
use sqlx::{AssertSqlSafe, Executor};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop, refusal};

/// Somebody with a phone whose key is registered.
pub(crate) struct Signer {
    who: Person,
    device: String,
    pub(crate) seed: Seed,
}

impl Signer {
    /// A signer whose key is not registered yet.
    pub(crate) async fn new(who: &Person, device: &str, seed: u8) -> Result<Self> {
        who.ticket(device, &[]).await?;
        Ok(Self {
            who: who.clone(),
            device: device.to_owned(),
            seed: Seed::new(&[seed; 32]),
        })
    }

    fn me(&self) -> Result<shared::wire::Me> {
        Ok(self
            .who
            .session
            .as_ref()
            .context("not signed in")?
            .me
            .clone())
    }

    /// Registers the key; the answer's status and code.
    pub(crate) async fn register(&self, holder: &Seed) -> Result<(StatusCode, Option<Code>)> {
        let me = self.me()?;
        let (shop, user): (ShopId, UserId) = (me.shop.parse()?, me.user.parse()?);
        let device: DeviceId = self.device.parse()?;
        let signature = holder.sign(possession(&shop, &user, &device).as_bytes());
        let body = json!({
            "device": self.device,
            "key": self.seed.public().to_string(),
            "signature": signature.to_string(),
        });
        told(self.who.post("/api/keys", &body).await?).await
    }

    /// What this signer says of the book as a phone has it.
    pub(crate) fn says(&self, phone: &mut Device, deed: Deed) -> Result<Statement> {
        let me = self.me()?;
        let doc = Automerge::load(&phone.doc.save())?;
        let mut heads: Vec<Digest> = doc.get_heads().iter().map(digest).collect();
        heads.sort();
        let (job, _) = book::read(&doc);
        let stage = job.stages.last().context("no stage")?.id.clone();
        Ok(Statement {
            format: StatementFormat::V1,
            deed,
            shop: me.shop.parse()?,
            job: phone.book.parse()?,
            heads,
            claims: Claims::of(&job, &solve(&job), &stage).context("no claims")?,
            who: Who {
                user: me.user.parse()?,
                name: me.name,
                device: Some(self.device.parse()?),
            },
            at_ms: 1_800_000_000_000,
        })
    }

    pub(crate) fn signs(&self, statement: Statement) -> Result<SignedStatement> {
        Ok(SignedStatement::sign(statement, &self.seed)?)
    }

    pub(crate) async fn sends(
        &self,
        signed: &SignedStatement,
    ) -> Result<(StatusCode, Option<String>)> {
        let answer = self
            .who
            .post("/api/statements", &json!({ "text": signed.text() }))
            .await?;
        let status = answer.status();
        if status.is_success() {
            let kept: KeptStatement = answer.json().await?;
            assert_eq!(kept.digest, signed.digest().to_string());
            return Ok((status, Some(kept.code)));
        }
        Ok((status, refusal(answer).await?.1.subject))
    }
}

async fn told(answer: reqwest::Response) -> Result<(StatusCode, Option<Code>)> {
    let status = answer.status();
    if status.is_success() {
        return Ok((status, None));
    }
    Ok((status, Some(refusal(answer).await?.1.code)))
}

/// A phone with the demo car's book, shared.
pub(crate) async fn shared_car(who: &Person) -> Result<Device> {
    let mut phone = Device::new(&document_id());
    let actor: ActorId = phone.doc.get_actor().clone();
    let stamp = Stamp {
        by: "ana".into(),
        at: "2026-03-02T08:00:00Z".into(),
        at_ms: 1_772_438_400_000,
        record: "import".into(),
    };
    let doc = book::import(&shared::demo::job(), actor.clone(), &stamp)?;
    phone.doc = AutoCommit::load(&doc.save())?.with_actor(actor);
    phone.connect(who).await?;
    phone.share().await?;
    Ok(phone)
}

async fn export(shop: &Shop) -> Result<Bundle> {
    match shop.running.app.store.export_log(None).await? {
        Exported::Bundle(bundle) => Ok(*bundle),
        Exported::NoSuchShop(_) => bail!("no shop"),
    }
}

async fn sign_off_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = shared_car(&ana).await?;
    let ana = Signer::new(&ana, &phone.device, 1).await?;
    let marta = Signer::new(&marta, "01ARZ3NDEKTSV4RRFFQ69G5FAV", 2).await?;

    // A key is registered by whoever has it, on a device of their own.
    let statement = ana.says(&mut phone, Deed::SignOff)?;
    let signed = ana.signs(statement.clone())?;
    let unknown = ana.sends(&signed).await?;
    assert_eq!(unknown, (StatusCode::BAD_REQUEST, Some("key".into())));
    let not_theirs = ana.register(&marta.seed).await?;
    assert_eq!(
        not_theirs,
        (StatusCode::BAD_REQUEST, Some(Code::BadRequest))
    );
    assert_eq!(
        ana.register(&ana.seed).await?,
        (StatusCode::NO_CONTENT, None)
    );
    assert_eq!(
        ana.register(&ana.seed).await?,
        (StatusCode::NO_CONTENT, None)
    );
    let mut taken = Signer::new(&marta.who, &marta.device, 1).await?;
    assert_eq!(
        taken.register(&ana.seed).await?,
        (StatusCode::CONFLICT, Some(Code::Taken))
    );
    taken.device = phone.device.clone();
    let elsewhere = taken.register(&ana.seed).await?;
    assert_eq!(elsewhere, (StatusCode::BAD_REQUEST, Some(Code::BadRequest)));
    assert_eq!(
        marta.register(&marta.seed).await?,
        (StatusCode::NO_CONTENT, None)
    );

    // What is not true, or not the signer's to say, is not kept.
    let refused = async |change: fn(&mut Statement)| {
        let mut untrue = statement.clone();
        change(&mut untrue);
        ana.sends(&ana.signs(untrue)?).await
    };
    for (change, status, subject) in [
        (
            (|s| s.claims.counts.outside = 0) as fn(&mut Statement),
            StatusCode::BAD_REQUEST,
            Some("claims.counts.outside"),
        ),
        (
            |s| s.claims.result = Digest::of(b""),
            StatusCode::BAD_REQUEST,
            Some("claims.result"),
        ),
        (
            |s| s.heads = vec![Digest::of(b"")],
            StatusCode::BAD_REQUEST,
            Some("heads that the book never had"),
        ),
        (
            |s| s.who.name = "Marta".into(),
            StatusCode::FORBIDDEN,
            Some("who"),
        ),
        (
            |s| s.who.device = None,
            StatusCode::BAD_REQUEST,
            Some("key"),
        ),
        (
            |s| s.job = document_id().parse().expect("base58 has no spaces"),
            StatusCode::NOT_FOUND,
            None,
        ),
        (
            |s| s.shop = "another".parse().expect("a name without spaces"),
            StatusCode::BAD_REQUEST,
            Some("shop"),
        ),
        (
            |s| {
                s.deed = Deed::Countersign {
                    of: Digest::of(b""),
                }
            },
            StatusCode::FORBIDDEN,
            Some("owner"),
        ),
    ] {
        assert_eq!(refused(change).await?, (status, subject.map(str::to_owned)));
    }
    let foreign = marta.sends(&signed).await?;
    assert_eq!(foreign, (StatusCode::FORBIDDEN, Some("who".into())));
    let altered = signed.text().replacen("pull-1-released", "pull-1-load", 1);
    assert_ne!(altered, signed.text());
    let altered = ana
        .who
        .post("/api/statements", &json!({ "text": altered }))
        .await?;
    assert_eq!(altered.status(), StatusCode::BAD_REQUEST);

    // The true one is kept, once; work goes on; the owner joins what was said.
    assert_eq!(
        ana.sends(&signed).await?,
        (StatusCode::CREATED, Some(signed.code()))
    );
    assert_eq!(
        ana.sends(&signed).await?,
        (StatusCode::CREATED, Some(signed.code()))
    );
    let as_signed = AutoCommit::load(&phone.doc.save())?;
    phone.mean(&Intention::WriteNote {
        id: "n1".into(),
        text: "glass is in".into(),
    })?;
    phone.share().await?;
    let nothing = Deed::Countersign {
        of: Digest::of(b""),
    };
    let joins_nothing = marta.signs(marta.says(&mut phone, nothing)?)?;
    let unfit = (StatusCode::BAD_REQUEST, Some("of".into()));
    assert_eq!(marta.sends(&joins_nothing).await?, unfit);
    let joins = Deed::Countersign {
        of: signed.digest(),
    };
    let of_later_work = marta.signs(marta.says(&mut phone, joins)?)?;
    assert_eq!(marta.sends(&of_later_work).await?, unfit);
    let mut then = Device::new(&phone.book);
    then.doc = as_signed;
    let joined = marta.signs(marta.says(&mut then, joins)?)?;
    assert_eq!(
        marta.sends(&joined).await?,
        (StatusCode::CREATED, Some(joined.code()))
    );
    let stage = Stage {
        id: "nothing-read".parse()?,
        label: "nothing read".into(),
        of: StageKind::AsReceived,
        load: None,
    };
    phone.mean(&Intention::BeginStage { stage })?;
    phone.share().await?;
    let of_nothing = ana.signs(ana.says(&mut phone, Deed::SignOff)?)?;
    let readings = Some("claims.readings".into());
    assert_eq!(
        ana.sends(&of_nothing).await?,
        (StatusCode::BAD_REQUEST, readings)
    );
    let kept: Vec<String> = ana
        .who
        .read(&format!("/api/jobs/{}/statements", phone.book))
        .await?;
    assert_eq!(kept.len(), 2);
    assert!(kept.contains(&signed.text().to_owned()) && kept.contains(&joined.text().to_owned()));

    // Somebody elsewhere computes it all again; altered behind the server's back it is found out.
    let report = verify(&export(&shop).await?);
    assert_eq!(report.fault, None);
    assert_eq!((report.sign_offs, report.countersignatures), (1, 1));
    let mut database = shop.scratch.connect().await?;
    let alter = format!(
        "UPDATE statement SET body = REPLACE(body, 'ana', 'ben') WHERE digest = '{}'",
        signed.digest()
    );
    database.execute(AssertSqlSafe(alter)).await?;
    let fault = verify(&export(&shop).await?)
        .fault
        .context("nothing was noticed")?;
    assert_eq!(
        (fault.kind, fault.place.field.as_str()),
        (FaultKind::Statement, "digest")
    );
    database.execute("DELETE FROM statement").await?;
    let fault = verify(&export(&shop).await?)
        .fault
        .context("nothing was noticed")?;
    assert_eq!(
        (fault.kind, fault.place.field.as_str()),
        (FaultKind::Statement, "event.statement")
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn sign_off_on_sqlite() -> Result<()> {
    sign_off_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn sign_off_on_postgres() -> Result<()> {
    sign_off_story(Engine::Postgres).await
}

/// A phone's new key ends its old one, and the old one can come back.
#[tokio::test(flavor = "multi_thread")]
async fn the_last_key_of_a_phone_signs() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let mut phone = shared_car(&marta).await?;
    let old = Signer::new(&marta, &phone.device, 1).await?;
    let new = Signer::new(&marta, &phone.device, 2).await?;
    old.register(&old.seed).await?;
    new.register(&new.seed).await?;
    let statement = old.says(&mut phone, Deed::SignOff)?;
    let ended = old.sends(&old.signs(statement.clone())?).await?;
    assert_eq!(ended, (StatusCode::BAD_REQUEST, Some("key".into())));
    assert_eq!(
        new.sends(&new.signs(statement.clone())?).await?.0,
        StatusCode::CREATED
    );
    old.register(&old.seed).await?;
    assert_eq!(
        old.sends(&old.signs(statement)?).await?.0,
        StatusCode::CREATED
    );
    let report = verify(&export(&shop).await?);
    assert_eq!((report.fault, report.sign_offs), (None, 2));
    shop.running.stop().await
}

/// Where the shop asks for two people, an owner cannot join what they have signed themselves.
#[tokio::test(flavor = "multi_thread")]
async fn two_people_sign_where_the_shop_asks_for_it() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Owner).await?;
    let mut phone = shared_car(&marta).await?;
    let marta = Signer::new(&marta, &phone.device, 1).await?;
    let ana = Signer::new(&ana, "01ARZ3NDEKTSV4RRFFQ69G5FAV", 2).await?;
    marta.register(&marta.seed).await?;
    ana.register(&ana.seed).await?;
    let first = marta.signs(marta.says(&mut phone, Deed::SignOff)?)?;
    marta.sends(&first).await?;
    let rule = marta
        .who
        .post("/api/rules", &json!({ "two_people": true }))
        .await?;
    assert_eq!(rule.status(), StatusCode::NO_CONTENT);
    let of = first.digest();
    let own = marta.signs(marta.says(&mut phone, Deed::Countersign { of })?)?;
    assert_eq!(
        marta.sends(&own).await?,
        (StatusCode::FORBIDDEN, Some("two-people".into()))
    );
    let joined = ana.signs(ana.says(&mut phone, Deed::Countersign { of })?)?;
    assert_eq!(ana.sends(&joined).await?.0, StatusCode::CREATED);

    // The list of jobs tells the sign-off, who joined it, and what came since.
    let signed = async || {
        let jobs: Vec<SignedJob> = ana.who.read("/api/signed-jobs").await?;
        jobs.into_iter().next().context("no signed job")
    };
    let job = signed().await?;
    assert_eq!(
        (job.book, job.signed),
        (phone.book.clone(), first.text().to_owned())
    );
    assert_eq!(job.countersigned.as_deref(), Some(joined.text()));
    assert_eq!(job.entries_since, 0);
    phone.mean(&Intention::WriteNote {
        id: "n1".into(),
        text: "glass is in".into(),
    })?;
    phone.share().await?;
    assert_eq!(signed().await?.entries_since, 1);
    let report = verify(&export(&shop).await?);
    assert_eq!((report.fault, report.countersignatures), (None, 1));
    shop.running.stop().await
}
