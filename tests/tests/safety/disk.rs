//! The phone's store, behind the app's back.

use anyhow::{Context, Result};
use serde_json::Value;
use tests::phone::Phone;

/// What the scripts here have at hand.
const OPEN: &str = r#"
  const opening = indexedDB.open("baybook");
  const store = await new Promise((done) => { opening.onsuccess = () => done(opening.result); });
  const entries = (mode, work) => new Promise((done, fail) => {
    const turn = store.transaction("entries", mode);
    const asked = work(turn.objectStore("entries"));
    turn.oncomplete = () => done(asked.result);
    turn.onabort = () => fail(turn.error);
  });
  const names = async (part) => (await entries("readonly", (all) => all.getAllKeys())).filter((name) => name.includes(part));
  const get = (name) => entries("readonly", (all) => all.get(name));
  const put = (value, name) => entries("readwrite", (all) => all.put(value, name));
"#;

/// Runs a script with the store open.
pub(crate) async fn on_disk(phone: &Phone, script: &str) -> Result<Value> {
    let script = format!("{OPEN} try {{ {script} }} finally {{ store.close(); }}");
    phone.ask(&script).await
}

/// Names in the store with this part.
pub(crate) async fn names(phone: &Phone, part: &str) -> Result<Vec<String>> {
    let names = on_disk(phone, &format!("return await names('{part}')")).await?;
    Ok(serde_json::from_value(names)?)
}

/// Turns one bit in the middle of what is stored under a name.
pub(crate) async fn wear(phone: &Phone, name: &str) -> Result<()> {
    let script = format!(
        "const bytes = await get('{name}'); bytes[bytes.length >> 1] ^= 1; await put(bytes, '{name}');"
    );
    on_disk(phone, &script).await?;
    Ok(())
}

/// The content of what is stored under a name, as text; its seal is left out.
pub(crate) async fn text(phone: &Phone, name: &str) -> Result<String> {
    let script = format!("return new TextDecoder().decode((await get('{name}')).slice(20))");
    let text = on_disk(phone, &script).await?;
    Ok(text.as_str().context("no text")?.to_owned())
}
