//! Photos over HTTP: sent in parts that go on after a cut, kept once, read by those who read the job,
//! and nothing else taken in their name.

use anyhow::{Context, Result, ensure};
use reqwest::{Method, StatusCode, header};
use shared::book::Intention;
use shared::book::photo::{MAX_PHOTO_BYTES, Media, Photo};
use shared::ids::PhotoId;
use shared::proof::Digest;
use shared::wire::{Code, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::photo::{begin, begun, metadata, offset, part, picture, record, refer, send};
use tests::shop::{Person, Shop, refusal};

/// A shop with a book that two people have.
struct Scene {
    shop: Shop,
    marta: Person,
    ana: Person,
    phone: Device,
}

async fn scene(engine: Engine) -> Result<Scene> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(&ana).await?;
    phone.share().await?;
    Ok(Scene {
        shop,
        marta,
        ana,
        phone,
    })
}

fn place(book: &str, bytes: &[u8]) -> String {
    format!("/api/jobs/{book}/photos/{}", Digest::of(bytes))
}

async fn whole_story(engine: Engine) -> Result<()> {
    let Scene {
        shop,
        marta,
        ana,
        mut phone,
    } = scene(engine).await?;
    let bytes = picture(1)?;
    refer(&mut phone, record("p1", &bytes)?).await?;
    let path = place(&phone.book, &bytes);
    let (status, _) = refusal(marta.get(&path).await?).await?;
    ensure!(status == StatusCode::NOT_FOUND, "not here yet: {status}");

    // In parts of odd sizes; the server says where to go on.
    let upload = begun(&ana, &phone.book, &bytes).await?;
    ensure!(offset(&ana, &upload).await? == Ok(0));
    let mut at = 0;
    for size in [1, 70_000, 3, 65_536] {
        let answer = part(&ana, &upload, at, &bytes[at..at + size]).await?;
        ensure!(
            answer.status() == StatusCode::NO_CONTENT,
            "{}",
            answer.status()
        );
        ensure!(answer.headers().get("Tus-Resumable").is_some());
        at += size;
        ensure!(offset(&ana, &upload).await? == Ok(at));
    }
    // A part that was sent before is not taken twice, nobody else goes on with it, and a server that
    // ends keeps what it has.
    let (status, refused) = refusal(part(&ana, &upload, 0, &bytes[..10]).await?).await?;
    ensure!((status, refused.code) == (StatusCode::CONFLICT, Code::Taken));
    ensure!(offset(&marta, &upload).await? == Err(StatusCode::NOT_FOUND));
    let shop = shop.cut_power().await?;
    let [ana, marta] = [&ana, &marta].map(|one| one.moved_to(shop.running.addr));
    ensure!(offset(&ana, &upload).await? == Ok(at));
    let last = part(&ana, &upload, at, &bytes[at..]).await?;
    ensure!(last.status() == StatusCode::NO_CONTENT, "{}", last.status());
    // An answer that was lost can be asked for again.
    ensure!(offset(&ana, &upload).await? == Ok(bytes.len()));

    let (_, follow) = ana.link_opened(&phone.book).await?;
    let adjuster = shop.nobody().with_token(&follow.access_token);
    let followed = format!("/api/follow/photos/{}", Digest::of(&bytes));
    for (who, path) in [(&ana, &path), (&marta, &path), (&adjuster, &followed)] {
        let answer = who.get(path).await?;
        ensure!(answer.status() == StatusCode::OK, "{}", answer.status());
        let of = |name: header::HeaderName| -> Result<String> {
            let value = answer.headers().get(&name).context(name.to_string())?;
            Ok(value.to_str()?.to_owned())
        };
        ensure!(of(header::CONTENT_TYPE)? == "image/jpeg");
        ensure!(of(header::X_CONTENT_TYPE_OPTIONS)? == "nosniff");
        ensure!(of(header::CONTENT_SECURITY_POLICY)? == "default-src 'none'; sandbox");
        ensure!(of(header::CACHE_CONTROL)? == "private, max-age=31536000, immutable");
        ensure!(of(header::CONTENT_DISPOSITION)?.starts_with("attachment; filename="));
        ensure!(answer.bytes().await? == bytes, "other bytes");
    }

    // Sent once more by somebody else, it is kept once.
    send(&marta, &phone.book, &bytes).await?;
    let pieces = "SELECT COUNT(DISTINCT upload_id) FROM photo_piece";
    ensure!(shop.scratch.number(pieces).await? == 1);
    ensure!(shop.scratch.number("SELECT COUNT(*) FROM photo").await? == 1);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photo_goes_on_where_it_stopped_sqlite() -> Result<()> {
    whole_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photo_goes_on_where_it_stopped_postgres() -> Result<()> {
    whole_story(Engine::Postgres).await
}

/// What was refused, and that nothing is kept of it.
async fn refused(scene: &Scene, bytes: &[u8], media: &str) -> Result<(StatusCode, String)> {
    let name = Digest::of(bytes).to_string();
    let answer = begin(
        &scene.ana,
        &scene.phone.book,
        bytes.len(),
        &metadata(&name, media),
    )
    .await?;
    let (status, refusal) = refusal(answer).await?;
    Ok((status, refusal.subject.unwrap_or_default()))
}

#[tokio::test(flavor = "multi_thread")]
async fn only_what_the_book_refers_to_is_taken() -> Result<()> {
    let mut scene = scene(Engine::Sqlite).await?;
    let bytes = picture(2)?;
    let unknown = (StatusCode::NOT_FOUND, "digest".to_owned());
    ensure!(refused(&scene, &bytes, "image/jpeg").await? == unknown);
    refer(&mut scene.phone, record("p1", &bytes)?).await?;
    let other_kind = refused(&scene, &bytes, "image/png").await?;
    ensure!(other_kind == (StatusCode::BAD_REQUEST, "Upload-Length".to_owned()));
    let html = refused(&scene, &bytes, "text/html").await?;
    ensure!(html == (StatusCode::BAD_REQUEST, "type".to_owned()));

    let (ana, book) = (&scene.ana, &scene.phone.book);
    let name = Digest::of(&bytes).to_string();
    let good = metadata(&name, "image/jpeg");
    let asks = [
        (bytes.len() + 1, good.clone(), StatusCode::BAD_REQUEST),
        (
            usize::try_from(MAX_PHOTO_BYTES)? + 1,
            good.clone(),
            StatusCode::PAYLOAD_TOO_LARGE,
        ),
        (
            bytes.len(),
            metadata("../../etc/passwd", "image/jpeg"),
            StatusCode::BAD_REQUEST,
        ),
        (
            bytes.len(),
            metadata(&name.to_uppercase(), "image/jpeg"),
            StatusCode::BAD_REQUEST,
        ),
        (bytes.len(), "digest !!".to_owned(), StatusCode::BAD_REQUEST),
    ];
    for (length, metadata, expected) in asks {
        let status = begin(ana, book, length, &metadata).await?.status();
        ensure!(status == expected, "{metadata}: {status}");
    }
    // Another version of the protocol, or none.
    let path = format!("/api/jobs/{book}/photos");
    let plain = ana.request(Method::POST, &path).send().await?;
    ensure!(
        plain.status() == StatusCode::PRECONDITION_FAILED,
        "{}",
        plain.status()
    );
    ensure!(plain.headers().get("Tus-Version").is_some());
    // Other people: a link only reads, another shop has no such book, a stranger signs in first.
    let (_, follow) = ana.link_opened(book).await?;
    let adjuster = scene.shop.nobody().with_token(&follow.access_token);
    let other = scene
        .shop
        .other_shop("Other Works", "olga@other.example")
        .await?;
    for (who, expected) in [
        (&adjuster, StatusCode::UNAUTHORIZED),
        (&scene.shop.nobody(), StatusCode::UNAUTHORIZED),
        (&other, StatusCode::NOT_FOUND),
    ] {
        let status = begin(who, book, bytes.len(), &good).await?.status();
        ensure!(status == expected, "{status}");
    }
    send(ana, book, &bytes).await?;
    for path in [
        place(book, &bytes),
        place(book, &bytes).replace(&name, "../../../etc/passwd"),
        place(book, &bytes).replace(&name, "%2e%2e%2fphotos"),
        place(book, &bytes).replace(&name, &name.to_uppercase()),
        place(book, &bytes).replace(&name, "uploads"),
    ] {
        let status = other.get(&path).await?.status();
        ensure!(status == StatusCode::NOT_FOUND, "{path}: {status}");
        let mine = ana.get(&path).await?.status();
        ensure!(
            mine == StatusCode::NOT_FOUND || path.ends_with(&name),
            "{path}: {mine}"
        );
    }
    // A link to another job has nothing of this one.
    let mut second = Device::new(&document_id());
    second.start_book()?;
    second.connect(ana).await?;
    second.share().await?;
    let (_, follow) = ana.link_opened(&second.book).await?;
    let elsewhere = scene.shop.nobody().with_token(&follow.access_token);
    let status = elsewhere
        .get(&format!("/api/follow/photos/{name}"))
        .await?
        .status();
    ensure!(status == StatusCode::NOT_FOUND, "{status}");
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_hidden_in_the_book_is_hidden_from_whoever_follows() -> Result<()> {
    let mut scene = scene(Engine::Sqlite).await?;
    let bytes = picture(4)?;
    refer(&mut scene.phone, record("p1", &bytes)?).await?;
    let book = scene.phone.book.clone();
    send(&scene.ana, &book, &bytes).await?;
    let (_, follow) = scene.ana.link_opened(&book).await?;
    let adjuster = scene.shop.nobody().with_token(&follow.access_token);
    let followed = format!("/api/follow/photos/{}", Digest::of(&bytes));
    ensure!(adjuster.get(&followed).await?.status() == StatusCode::OK);
    let hide = Intention::StrikePhoto {
        photo: PhotoId::parse("p1")?,
        why: "a face in it".to_owned(),
    };
    scene.phone.mean(&hide)?;
    scene.phone.share().await?;
    ensure!(adjuster.get(&followed).await?.status() == StatusCode::NOT_FOUND);
    // It is part of the record all the same.
    let kept = scene.ana.get(&place(&book, &bytes)).await?.status();
    ensure!(kept == StatusCode::OK, "{kept}");
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn wrong_bytes_are_dropped() -> Result<()> {
    let mut scene = scene(Engine::Sqlite).await?;
    let right = picture(3)?;
    let page = [
        &[0xff, 0xd8, 0xff, 0xe0],
        &b"<!doctype html><script>alert(1)</script>"[..],
    ]
    .concat();
    let record_of = |id: &str, bytes: &[u8]| record(id, bytes);
    refer(&mut scene.phone, record_of("p1", &right)?).await?;
    refer(&mut scene.phone, record_of("p2", &page)?).await?;
    let png = Photo {
        media: Media::Png,
        ..record_of("p3", b"\x89PNG and then something else")?
    };
    refer(&mut scene.phone, png).await?;
    let (ana, book) = (&scene.ana, &scene.phone.book);

    // Other bytes of the same length, a page in a picture's first bytes, more than was announced.
    let upload = begun(ana, book, &right).await?;
    let mut wrong = right.clone();
    *wrong.last_mut().context("empty")? ^= 1;
    let (status, said) = refusal(part(ana, &upload, 0, &wrong).await?).await?;
    ensure!((status, said.subject.as_deref()) == (StatusCode::BAD_REQUEST, Some("digest")));
    ensure!(offset(ana, &upload).await? == Err(StatusCode::NOT_FOUND));
    let upload = begun(ana, book, &page).await?;
    let (status, said) = refusal(part(ana, &upload, 0, &page).await?).await?;
    ensure!((status, said.subject.as_deref()) == (StatusCode::BAD_REQUEST, Some("type")));
    let upload = begun(ana, book, &right).await?;
    let more = [&right[..], b"more"].concat();
    let status = part(ana, &upload, 0, &more).await?.status();
    ensure!(status == StatusCode::BAD_REQUEST, "{status}");
    let path = place(book, &right);
    ensure!(ana.get(&path).await?.status() == StatusCode::NOT_FOUND);
    ensure!(
        scene
            .shop
            .scratch
            .number("SELECT COUNT(*) FROM photo")
            .await?
            == 0
    );

    // No part of an upload.
    let plain = ana.request(Method::PATCH, &upload);
    let plain = plain
        .header("Tus-Resumable", "1.0.0")
        .header("Upload-Offset", 0);
    let status = plain.body("x").send().await?.status();
    ensure!(status == StatusCode::UNSUPPORTED_MEDIA_TYPE, "{status}");
    send(ana, book, &right).await?;
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_rests_too_long_is_thrown_away() -> Result<()> {
    let mut scene = scene(Engine::Sqlite).await?;
    let (first, second) = (picture(4)?, picture(5)?);
    refer(&mut scene.phone, record("p1", &first)?).await?;
    refer(&mut scene.phone, record("p2", &second)?).await?;
    let ana = scene.ana.clone();
    let book = scene.phone.book.clone();
    send(&ana, &book, &second).await?;
    let upload = begun(&ana, &book, &first).await?;
    part(&ana, &upload, 0, &first[..100_000]).await?;
    scene
        .shop
        .clock
        .turn(server::store::UPLOAD_RESTS_MS / 1000 + 1);
    let ana = ana.sign_in_again().await?;
    ensure!(offset(&ana, &upload).await? == Err(StatusCode::NOT_FOUND));
    // The next one sweeps; the photo that is here stays.
    let again = begun(&ana, &book, &first).await?;
    let pieces = "SELECT COUNT(DISTINCT upload_id) FROM photo_piece";
    ensure!(scene.shop.scratch.number(pieces).await? == 1);
    let status = ana.get(&place(&book, &second)).await?.status();
    ensure!(status == StatusCode::OK, "{status}");
    // A phone that has forgotten where it was begins anew; the old upload ends.
    let anew = begun(&ana, &book, &first).await?;
    ensure!(offset(&ana, &again).await? == Err(StatusCode::NOT_FOUND));
    ensure!(offset(&ana, &anew).await? == Ok(0));
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_fills_the_disk() -> Result<()> {
    let mut scene = scene(Engine::Sqlite).await?;
    // Records of the largest files; announced, they count before a byte of them is here.
    let largest = usize::try_from(MAX_PHOTO_BYTES)?;
    let room = usize::try_from(server::store::MAX_JOB_BYTES)? / largest;
    for number in 0..=room {
        let photo = Photo {
            bytes: MAX_PHOTO_BYTES,
            ..record(&format!("p{number}"), &number.to_le_bytes())?
        };
        refer(&mut scene.phone, photo).await?;
        let name = Digest::of(&number.to_le_bytes()).to_string();
        let metadata = metadata(&name, "image/jpeg");
        let answer = begin(&scene.ana, &scene.phone.book, largest, &metadata).await?;
        if number < room {
            ensure!(answer.status() == StatusCode::CREATED, "{number}");
            continue;
        }
        let (status, said) = refusal(answer).await?;
        ensure!((status, said.code) == (StatusCode::PAYLOAD_TOO_LARGE, Code::TooLarge));
        ensure!(said.subject.as_deref() == Some("job"));
    }
    scene.shop.running.stop().await
}
