//! Pictures as the browser reads and draws them. What comes out is drawn anew: nothing that a camera
//! wrote beside the picture (place, device, time) is in it.
//!
//! This file refuses to know what a picture is for.

use js_sys::{Array, Promise, Uint8Array};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, CanvasRenderingContext2d, File, HtmlCanvasElement, ImageBitmap};

/// Longest side of a picture, pixels: a label on a beam can be read, and a hundred fit a slow line.
const LONGEST_PX: f64 = 1600.0;
/// How good a JPEG is, 0 to 1: common practice for photos.
const QUALITY: f64 = 0.8;
/// Media type of what is made.
const JPEG: &str = "image/jpeg";

/// A picture as a JPEG.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawn {
    /// The file.
    pub bytes: Vec<u8>,
    /// Width, pixels.
    pub wide: u32,
    /// Height, pixels.
    pub high: u32,
}

/// A chosen picture, upright, scaled down, as a JPEG.
///
/// # Errors
/// When the browser cannot read it.
pub async fn scaled(file: &File) -> Result<Drawn, JsValue> {
    let window = super::window();
    let picture = window.create_image_bitmap_with_blob(file)?;
    let picture: ImageBitmap = JsFuture::from(picture).await?.dyn_into()?;
    let (wide, high) = (f64::from(picture.width()), f64::from(picture.height()));
    let scale = (LONGEST_PX / wide.max(high)).min(1.0);
    let side = |length: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "1 to LONGEST_PX"
        )]
        let side = (length * scale).round().max(1.0) as u32;
        side
    };
    let (wide, high) = (side(wide), side(high));
    let document = window.document().ok_or(JsValue::NULL)?;
    let canvas: HtmlCanvasElement = document.create_element("canvas")?.dyn_into()?;
    canvas.set_width(wide);
    canvas.set_height(high);
    let context = canvas.get_context("2d")?.ok_or(JsValue::NULL)?;
    let context: CanvasRenderingContext2d = context.dyn_into()?;
    let (width, height) = (f64::from(wide), f64::from(high));
    context.draw_image_with_image_bitmap_and_dw_and_dh(&picture, 0.0, 0.0, width, height)?;
    picture.close();
    let packed = Promise::new(&mut |resolve, _| {
        let done = Closure::once_into_js(move |blob: JsValue| {
            // A promise takes any value.
            let _ = resolve.call1(&JsValue::UNDEFINED, &blob);
        });
        // A browser that refuses leaves the promise to nobody; it packs what it drew.
        let _ = canvas.to_blob_with_type_and_encoder_options(
            done.unchecked_ref(),
            JPEG,
            &JsValue::from_f64(QUALITY),
        );
    });
    let blob: Blob = JsFuture::from(packed).await?.dyn_into()?;
    let buffer = JsFuture::from(blob.array_buffer()).await?;
    Ok(Drawn {
        bytes: Uint8Array::new(&buffer).to_vec(),
        wide,
        high,
    })
}

/// An address under which the page can show these bytes, until [`let_go`].
#[must_use]
pub fn address_of(bytes: &[u8]) -> Option<String> {
    let parts = Array::of1(&Uint8Array::from(bytes));
    let blob = Blob::new_with_u8_array_sequence(&parts).ok()?;
    web_sys::Url::create_object_url_with_blob(&blob).ok()
}

/// Lets the bytes behind an address go.
pub fn let_go(address: &str) {
    // An address that is known no more holds nothing.
    let _ = web_sys::Url::revoke_object_url(address);
}
