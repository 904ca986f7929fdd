//! Tools that a chore needs: found, installed where that is possible, else named.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Result, bail};

use crate::run::{output, run};

const WASM: &str = "wasm32-unknown-unknown";

/// Makes sure that the compiler can build for the browser.
pub(crate) fn need_wasm_target() -> Result<()> {
    let sysroot = output(Command::new("rustc").args(["--print", "sysroot"])).unwrap_or_default();
    let installed = Path::new(sysroot.trim()).join("lib/rustlib").join(WASM);
    if installed.is_dir() {
        return Ok(());
    }
    run(Command::new("rustup").args(["target", "add", WASM])).or_else(|error| {
        bail!("the WASM target is missing ({error:#}). Install it: rustup target add {WASM}")
    })
}

/// Chromium and its driver, for the browser tests.
#[derive(Debug)]
pub(crate) struct Browser {
    /// The browser's program.
    pub(crate) chromium: PathBuf,
    /// Its WebDriver program.
    pub(crate) driver: PathBuf,
}

/// Makes sure that there is a Chromium with its driver.
pub(crate) fn need_browser() -> Result<Browser> {
    let find = || {
        let chromium = ["chromium", "chromium-browser", "google-chrome"]
            .into_iter()
            .find_map(on_path)?;
        Some(Browser {
            chromium,
            driver: on_path("chromedriver")?,
        })
    };
    if let Some(browser) = find() {
        return Ok(browser);
    }
    let packages = ["chromium", "chromium-driver"];
    install(&packages)?;
    match find() {
        Some(browser) => Ok(browser),
        None => bail!(
            "no Chromium. Install it: apt-get install {}",
            packages.join(" ")
        ),
    }
}

/// The folder of PostgreSQL's own programs (`initdb`, `pg_ctl`).
pub(crate) fn need_postgres() -> Result<PathBuf> {
    let find = || {
        let mut versions: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
            .into_iter()
            .flatten()
            .filter_map(|entry| Some(entry.ok()?.path().join("bin")))
            .filter(|bin| bin.join("initdb").is_file())
            .collect();
        versions.sort();
        versions
            .pop()
            .or_else(|| on_path("initdb").and_then(|path| path.parent().map(Path::to_owned)))
    };
    if let Some(bin) = find() {
        return Ok(bin);
    }
    install(&["postgresql"])?;
    match find() {
        Some(bin) => Ok(bin),
        None => bail!("no PostgreSQL server. Install it: apt-get install postgresql"),
    }
}

/// Node with its package manager, for the stock client.
#[derive(Debug)]
pub(crate) struct Node {
    /// The `node` program.
    pub(crate) node: PathBuf,
    npm: PathBuf,
}

/// Makes sure that there is a Node with its package manager.
pub(crate) fn need_node() -> Result<Node> {
    let find = || {
        Some(Node {
            node: on_path("node")?,
            npm: on_path("npm")?,
        })
    };
    if let Some(node) = find() {
        return Ok(node);
    }
    let packages = ["nodejs", "npm"];
    install(&packages)?;
    match find() {
        Some(node) => Ok(node),
        None => bail!(
            "no node and npm. Install them: apt-get install {}",
            packages.join(" ")
        ),
    }
}

/// Makes sure that the stock client's packages are there, as its lock file has them.
pub(crate) fn need_stock_client() -> Result<Node> {
    need_packages("tests/stock-client")
}

/// The same for the stock server, which is measured beside ours.
pub(crate) fn need_stock_server() -> Result<Node> {
    need_packages("tests/stock-server")
}

/// The same for the rules of accessibility, which run in the browser.
pub(crate) fn need_accessibility() -> Result<Node> {
    need_packages("tests/accessibility")
}

/// The optimisers of finished WASM (Binaryen) and of scripts (terser), of the versions that the app was
/// tried with: an older Binaryen broke its tables.
#[derive(Debug)]
pub(crate) struct Optimisers {
    pub(crate) node: PathBuf,
    pub(crate) wasm: PathBuf,
    pub(crate) script: PathBuf,
}

/// The optimisers, where they can be had: the app is the same without them, and a little larger.
pub(crate) fn want_optimisers() -> Option<Optimisers> {
    let folder = "client/optimiser";
    let found = || -> Result<Optimisers> {
        let Node { node, .. } = need_packages(folder)?;
        let packages = crate::root()?.join(folder).join("node_modules");
        Ok(Optimisers {
            node,
            wasm: packages.join("binaryen/bin/wasm-opt"),
            script: packages.join("terser/bin/terser"),
        })
    };
    found()
        .inspect_err(|error| eprintln!("going on without the bundle's optimisers: {error:#}"))
        .ok()
}

fn need_packages(folder: &str) -> Result<Node> {
    let node = need_node()?;
    let folder = crate::root()?.join(folder);
    let changed = |file: &str| std::fs::metadata(folder.join(file)).and_then(|m| m.modified());
    // npm writes the second one when it has installed what the first one says.
    let wanted = changed("package-lock.json")?;
    if changed("node_modules/.package-lock.json").is_ok_and(|installed| installed >= wanted) {
        return Ok(node);
    }
    // The packages' own install scripts build parts that only make them faster. Not `npm ci`, which
    // wants entries for those parts on every platform; `install` follows the lock file as well.
    let install = [
        "install",
        "--no-save",
        "--ignore-scripts",
        "--no-audit",
        "--no-fund",
    ];
    run(Command::new(&node.npm).args(install).current_dir(&folder)).or_else(|error| {
        bail!(
            "its packages cannot be installed ({error:#}). Run `npm {}` in {}",
            install.join(" "),
            folder.display()
        )
    })?;
    Ok(node)
}

/// Is this process allowed to do everything?
pub(crate) fn is_root() -> bool {
    output(Command::new("id").arg("-u")).is_some_and(|id| id.trim() == "0")
}

fn install(packages: &[&str]) -> Result<()> {
    let command = format!("apt-get install {}", packages.join(" "));
    if on_path("apt-get").is_none() || !is_root() {
        bail!(
            "missing here: {}. On Debian or Ubuntu: sudo {command}",
            packages.join(", ")
        );
    }
    eprintln!("installing {} …", packages.join(", "));
    run(Command::new("apt-get").args(["update", "-qq"]))?;
    run(Command::new("apt-get")
        .args(["install", "-y", "-qq", "--no-install-recommends"])
        .args(packages)
        .env("DEBIAN_FRONTEND", "noninteractive"))
}

fn on_path(program: &str) -> Option<PathBuf> {
    std::env::split_paths(&std::env::var_os("PATH")?)
        .map(|folder| folder.join(program))
        .find(|path| path.is_file())
}
