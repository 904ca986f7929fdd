//! Photos as tests send them: invented pictures, their records, and the tus protocol by hand.

use anyhow::{Context, Result, ensure};
use base64::prelude::{BASE64_STANDARD, Engine as _};
use reqwest::{Method, Response, StatusCode};
use shared::book::Intention;
use shared::book::photo::{Media, Photo};
use shared::ids::PhotoId;
use shared::proof::Digest;

use crate::device::Device;
use crate::shop::Person;

/// An invented picture, a JPEG of 640 × 480 pixels with a grain: about 200 kB.
///
/// # Errors
/// When it cannot be packed.
pub fn picture(number: u32) -> Result<Vec<u8>> {
    let mut grain = number.wrapping_mul(2_654_435_761) | 1;
    let image = image::RgbImage::from_fn(640, 480, |_, _| {
        // Xorshift (Marsaglia 2003).
        grain ^= grain << 13;
        grain ^= grain >> 17;
        grain ^= grain << 5;
        let [r, g, b, _] = grain.to_le_bytes();
        image::Rgb([r, g, b])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    image.write_to(&mut bytes, image::ImageFormat::Jpeg)?;
    Ok(bytes.into_inner())
}

/// What the book says of a file.
///
/// # Errors
/// When the id is none.
pub fn record(id: &str, bytes: &[u8]) -> Result<Photo> {
    Ok(Photo {
        id: PhotoId::parse(id)?,
        digest: Digest::of(bytes).to_string(),
        media: Media::Jpeg,
        bytes: bytes.len() as u64,
        width_px: 640,
        height_px: 480,
        stage: None,
        point: None,
        reading: None,
        caption: format!("picture {id}"),
        by: "Ana".to_owned(),
        at: "2027-01-15T08:00:00Z".to_owned(),
        struck: None,
    })
}

/// A phone writes a photo's record and shares it.
///
/// # Errors
/// When the book or the server refuses.
pub async fn refer(phone: &mut Device, photo: Photo) -> Result<()> {
    phone.mean(&Intention::AddPhoto { photo })?;
    phone.share().await
}

/// The metadata of an upload.
#[must_use]
pub fn metadata(digest: &str, media: &str) -> String {
    let [digest, media] = [digest, media].map(|value| BASE64_STANDARD.encode(value));
    format!("digest {digest},type {media}")
}

/// Asks to begin an upload.
///
/// # Errors
/// When the server does not answer.
pub async fn begin(who: &Person, book: &str, bytes: usize, metadata: &str) -> Result<Response> {
    let path = format!("/api/jobs/{book}/photos");
    let request = who
        .request(Method::POST, &path)
        .header("Tus-Resumable", "1.0.0")
        .header("Upload-Length", bytes)
        .header("Upload-Metadata", metadata);
    Ok(request.send().await?)
}

/// Begins an upload of a JPEG; its path.
///
/// # Errors
/// When the server refuses.
pub async fn begun(who: &Person, book: &str, bytes: &[u8]) -> Result<String> {
    let metadata = metadata(&Digest::of(bytes).to_string(), "image/jpeg");
    let answer = begin(who, book, bytes.len(), &metadata).await?;
    ensure!(
        answer.status() == StatusCode::CREATED,
        "{}",
        answer.status()
    );
    let location = answer.headers().get("Location").context("no place")?;
    Ok(location.to_str()?.to_owned())
}

/// Sends a part.
///
/// # Errors
/// When the server does not answer.
pub async fn part(who: &Person, path: &str, at: usize, bytes: &[u8]) -> Result<Response> {
    let request = who
        .request(Method::PATCH, path)
        .header("Tus-Resumable", "1.0.0")
        .header("Upload-Offset", at)
        .header("Content-Type", "application/offset+octet-stream")
        .body(bytes.to_vec());
    Ok(request.send().await?)
}

/// How much of an upload is at the server; the status without a number.
///
/// # Errors
/// When the server does not answer.
pub async fn offset(who: &Person, path: &str) -> Result<Result<usize, StatusCode>> {
    let request = who.request(Method::HEAD, path);
    let answer = request.header("Tus-Resumable", "1.0.0").send().await?;
    if !answer.status().is_success() {
        return Ok(Err(answer.status()));
    }
    let offset = answer.headers().get("Upload-Offset").context("no offset")?;
    Ok(Ok(offset.to_str()?.parse()?))
}

/// Sends a whole file that the book refers to.
///
/// # Errors
/// When the server refuses.
pub async fn send(who: &Person, book: &str, bytes: &[u8]) -> Result<()> {
    let path = begun(who, book, bytes).await?;
    let answer = part(who, &path, 0, bytes).await?;
    ensure!(
        answer.status() == StatusCode::NO_CONTENT,
        "{}",
        answer.status()
    );
    Ok(())
}
