//! A PostgreSQL server of our own for one run of the tests, in a folder that goes with it.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result};

use crate::run::run;
use crate::tools::{is_root, need_postgres};

/// A running server; dropping it stops the server and removes its folder.
#[derive(Debug)]
pub(crate) struct Postgres {
    bin: PathBuf,
    folder: PathBuf,
    /// Address for an administrator of this server.
    pub(crate) url: String,
}

impl Postgres {
    /// Starts a fresh server on a free port of this machine, reachable from this machine only.
    pub(crate) fn start() -> Result<Self> {
        let bin = need_postgres()?;
        let folder = std::env::temp_dir().join(format!("baybook-postgres-{}", std::process::id()));
        std::fs::create_dir_all(&folder)
            .with_context(|| format!("creating {}", folder.display()))?;
        if is_root() {
            // PostgreSQL refuses to run as root; its packages bring the user `postgres`.
            run(Command::new("chown").arg("postgres").arg(&folder))?;
        }
        let port = TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let server = Self {
            bin,
            url: format!("postgres://postgres@127.0.0.1:{port}/postgres"),
            folder,
        };
        let data = server.data();
        run(server.program("initdb").arg("-D").arg(&data).args([
            "-U",
            "postgres",
            "--auth=trust",
            "--encoding=UTF8",
            "--no-sync",
            "--no-instructions",
        ]))?;
        let options = format!(
            "-p {port} -c listen_addresses=127.0.0.1 -c max_connections=200 -c unix_socket_directories={}",
            server.folder.display()
        );
        run(server
            .program("pg_ctl")
            .arg("-D")
            .arg(&data)
            .arg("-l")
            .arg(server.folder.join("log"))
            .args(["-w", "-o", &options, "start"]))?;
        Ok(server)
    }

    fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    fn program(&self, name: &str) -> Command {
        let program = self.bin.join(name);
        let mut command = if is_root() {
            let mut command = Command::new("runuser");
            command.args(["-u", "postgres", "--"]).arg(program);
            command
        } else {
            Command::new(program)
        };
        command.current_dir(Path::new("/"));
        command
    }
}

impl Drop for Postgres {
    fn drop(&mut self) {
        let data = self.data();
        let stopped =
            run(self
                .program("pg_ctl")
                .arg("-D")
                .arg(data)
                .args(["-m", "immediate", "stop"]));
        if let Err(error) = stopped.and_then(|()| Ok(std::fs::remove_dir_all(&self.folder)?)) {
            eprintln!("leaving {}: {error:#}", self.folder.display());
        }
    }
}
