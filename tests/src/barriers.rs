//! Barriers in a page, by axe-core: rules of WCAG 2.0, 2.1 and 2.2 at the levels A and AA.
//!
//! The library comes from npm as `tests/accessibility/package-lock.json` has it; it runs in the page of
//! a real Chromium, and is no part of the app.

use std::path::Path;

use anyhow::{Context, Result};
use serde_json::Value;

use crate::phone::Phone;

/// Of axe's rules, those that WCAG asks for.
const RUN: &str = "
const values = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
// What is still changing its colour has none of its own.
const still = new CSSStyleSheet();
still.replaceSync('* { transition: none !important; animation: none !important; }');
const before = document.adoptedStyleSheets;
document.adoptedStyleSheets = [...before, still];
const look = { runOnly: { type: 'tag', values }, resultTypes: ['violations'] };
const found = await axe.run(document, look)
  .finally(() => { document.adoptedStyleSheets = before; });
return found.violations.flatMap((rule) => rule.nodes.map((node) =>
  `${rule.id} (${rule.impact}): ${rule.help}: ${node.target.join(' ')} ${node.html.slice(0, 160)} ` +
  node.any.concat(node.all, node.none).map((check) => check.message).join('; ')));";

/// Everything that the rules find on the page as it is now.
///
/// # Errors
/// When the library is not installed (`cargo xtask test` does it), or does not run.
pub async fn barriers(phone: &Phone) -> Result<Vec<String>> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("accessibility/node_modules/axe-core/axe.min.js");
    let source = std::fs::read_to_string(&file)
        .with_context(|| format!("{}: `cargo xtask test` installs it", file.display()))?;
    phone.driver.execute(source, vec![]).await?;
    let found = phone.ask(RUN).await?;
    let lines = found.as_array().context("axe gave no list")?;
    Ok(lines
        .iter()
        .filter_map(Value::as_str)
        .map(str::to_owned)
        .collect())
}
