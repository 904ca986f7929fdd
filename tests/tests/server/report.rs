//! The report of a job over HTTP: the same file for members and for the adjuster, with the code of
//! what was signed in it.

use anyhow::{Context, Result, ensure};
use reqwest::{Response, StatusCode, header};
use shared::proof::statement::Deed;
use shared::wire::{Code, Role};
use tests::database::Engine;
use tests::shop::{Shop, refusal};

use super::signoff::{Signer, shared_car};

/// The text of all pages of an answer.
async fn text(answer: Response) -> Result<String> {
    ensure!(answer.status() == StatusCode::OK, "{}", answer.status());
    let of = |name: header::HeaderName| -> Result<String> {
        let value = answer
            .headers()
            .get(&name)
            .with_context(|| format!("no {name}"))?;
        Ok(value.to_str()?.to_owned())
    };
    ensure!(of(header::CONTENT_TYPE)? == "application/pdf");
    let name = of(header::CONTENT_DISPOSITION)?;
    ensure!(name == "attachment; filename=\"report-2041.pdf\"", "{name}");
    ensure!(of(header::CACHE_CONTROL)? == "no-store");
    let file = lopdf::Document::load_mem(&answer.bytes().await?)?;
    let pages: Vec<u32> = file.get_pages().keys().copied().collect();
    let text = file.extract_text(&pages)?;
    Ok(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

async fn report_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = shared_car(&ana).await?;
    let path = format!("/api/jobs/{}/report", phone.book);
    let unsigned = text(ana.get(&path).await?).await?;
    ensure!(
        unsigned.contains("Nobody has signed this job off."),
        "{unsigned}"
    );

    let signer = Signer::new(&ana, &phone.device, 1).await?;
    signer.register(&signer.seed).await?;
    let says = signer.says(&mut phone, Deed::SignOff)?;
    let code = signer
        .sends(&signer.signs(says)?)
        .await?
        .1
        .context("no code")?;
    let (link, follow) = ana.link_opened(&phone.book).await?;
    let adjuster = shop.nobody().with_token(&follow.access_token);
    for answer in [
        marta.get(&path).await?,
        ana.get(&path).await?,
        adjuster.get("/api/follow/report").await?,
    ] {
        let text = text(answer).await?;
        ensure!(
            text.contains(&code) && text.contains("Unchanged since."),
            "{text}"
        );
    }
    let wish = "?language=es&paper=letter&unit=in";
    let spanish = text(adjuster.get(&format!("/api/follow/report{wish}")).await?).await?;
    ensure!(
        spanish.contains("Informe de medición") && spanish.contains("0,118 in"),
        "{spanish}"
    );

    for wrong in ["language=fr", "paper=a3", "unit=cm", "page=2"] {
        let (status, refusal) = refusal(ana.get(&format!("{path}?{wrong}")).await?).await?;
        ensure!(
            (status, refusal.code) == (StatusCode::BAD_REQUEST, Code::BadRequest),
            "{wrong}"
        );
        let subject = refusal.subject.unwrap_or_default();
        let name = wrong.split('=').next().unwrap_or_default();
        ensure!(subject.contains(name), "{wrong}: {subject}");
    }

    // A link that was taken back opens nothing any more.
    marta.delete(&format!("/api/links/{link}")).await?;
    let (status, _) = refusal(adjuster.get("/api/follow/report").await?).await?;
    ensure!(status == StatusCode::GONE, "{status}");
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_report_is_read_by_those_who_read_the_job_sqlite() -> Result<()> {
    report_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_report_is_read_by_those_who_read_the_job_postgres() -> Result<()> {
    report_story(Engine::Postgres).await
}
