//! Makes sure that the folder of the phone's app exists, so that the server compiles without it.

use std::fs;
use std::path::Path;

const PLACEHOLDER: &str = "<!doctype html>
<html lang=\"en\">
<meta charset=\"utf-8\">
<meta name=\"viewport\" content=\"width=device-width\">
<title>Baybook</title>
<h1>The app is not built yet</h1>
<p>This server was built without the phone's app. Build both and start them with
<code>cargo xtask up</code>.</p>
</html>
";

fn main() -> std::io::Result<()> {
    let dist = Path::new("../client/dist");
    fs::create_dir_all(dist)?;
    let index = dist.join("index.html");
    if !index.exists() {
        fs::write(index, PLACEHOLDER)?;
    }
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=../client/dist");
    Ok(())
}
