//! The report of a job, for members and for an adjuster: both the same file.

use actix_web::http::header;
use actix_web::{HttpResponse, web};
use report::Paper;
use serde::Deserialize;
use shared::figures::{Figures, Language, LengthUnit};

use crate::App;
use crate::auth::{Member, Viewer};
use crate::clock::rfc3339;
use crate::error::Failure;
use crate::report::{NoReport, Wish};
use crate::store::DocKey;

/// Seconds after which somebody who found the line full may come again.
const COME_AGAIN_S: u64 = 5;

/// How the report is wanted.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Query {
    language: Option<String>,
    paper: Option<String>,
    unit: Option<String>,
}

impl Query {
    /// # Errors
    /// Names the part that is not of the form.
    fn wish(&self, shop_name: &str, now_ms: i64) -> Result<Wish, Failure> {
        let paper = match self.paper.as_deref() {
            None | Some("a4") => Paper::A4,
            Some("letter") => Paper::Letter,
            Some(_) => return Err(Failure::bad_request("paper")),
        };
        Ok(Wish {
            figures: figures(self.language.as_deref(), self.unit.as_deref())?,
            paper,
            shop_name: shop_name.to_owned(),
            made_at: rfc3339(now_ms),
        })
    }
}

/// The language and the unit of a question.
///
/// # Errors
/// Names the one that is not of the form.
pub(super) fn figures(language: Option<&str>, unit: Option<&str>) -> Result<Figures, Failure> {
    let language = Language::of_code(language.unwrap_or("en"))
        .ok_or_else(|| Failure::bad_request("language"))?;
    let unit =
        LengthUnit::of_code(unit.unwrap_or("mm")).ok_or_else(|| Failure::bad_request("unit"))?;
    Ok(Figures { unit, language })
}

/// `GET /api/jobs/{book}/report?language=en|es&paper=a4|letter&unit=mm|in|in-decimal`: the report as PDF/A-2b.
///
/// # Errors
/// Names the part of the question that is not of the form; no such job; too many reports at once.
pub async fn show_report(
    app: web::Data<App>,
    member: Member,
    book: web::Path<String>,
    query: web::Query<Query>,
) -> Result<HttpResponse, Failure> {
    let me = member.me();
    let key = DocKey {
        shop: me.shop.clone(),
        doc: book.into_inner(),
    };
    print(&app, &key, &me.shop_name, &query).await
}

/// `GET /api/follow/report?…`: the same of the job that a link shows.
///
/// # Errors
/// As [`show_report`].
pub async fn show_followed(
    app: web::Data<App>,
    viewer: Viewer,
    query: web::Query<Query>,
) -> Result<HttpResponse, Failure> {
    print(&app, &viewer.job(), viewer.shop_name(), &query).await
}

async fn print(
    app: &App,
    key: &DocKey,
    shop_name: &str,
    query: &Query,
) -> Result<HttpResponse, Failure> {
    let wish = query.wish(shop_name, app.config.clock.now_ms())?;
    let printed = match app.press.print(&app.live, key, wish).await {
        Ok(printed) => printed,
        Err(NoReport::NoBook) => return Err(Failure::not_found()),
        Err(NoReport::Busy) => return Err(Failure::busy(COME_AGAIN_S)),
        Err(NoReport::Failed(error)) => return Err(error.into()),
    };
    let name = format!("attachment; filename=\"{}\"", file_name(&printed.number));
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header((header::CONTENT_DISPOSITION, name))
        .body(printed.bytes))
}

/// `report-2041.pdf`: of the number only what a file may be called everywhere.
fn file_name(number: &str) -> String {
    let plain: String = number
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .take(40)
        .collect();
    match plain.as_str() {
        "" => "report.pdf".to_owned(),
        plain => format!("report-{plain}.pdf"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_makes_a_name_and_nothing_else() {
        assert_eq!(file_name("2041"), "report-2041.pdf");
        assert_eq!(file_name("20/41\"; \r\nX-Y: z"), "report-2041X-Yz.pdf");
        assert_eq!(file_name("трабахо"), "report.pdf");
    }
}
