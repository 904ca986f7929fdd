# syntax=docker/dockerfile:1
# Linted; not yet built on a machine with a container engine.
FROM rust:1.95-bookworm AS build
WORKDIR /src
RUN rustup target add wasm32-unknown-unknown
COPY . .
RUN --mount=type=cache,target=/usr/local/cargo/registry \
    --mount=type=cache,target=/src/target \
    cargo xtask client \
 && cargo build --locked --release --package server --bin baybook \
 && install -D target/release/baybook /out/baybook

FROM debian:bookworm-slim
# `curl` asks for readiness below; everything else the program brings itself.
# hadolint ignore=DL3008
RUN apt-get update \
 && apt-get install --yes --no-install-recommends curl \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --no-create-home --uid 10001 --shell /usr/sbin/nologin baybook \
 && install -d -o baybook -g baybook -m 0700 /data /backups
COPY --from=build /out/baybook /usr/local/bin/baybook
USER 10001:10001
ENV BAYBOOK_LISTEN=0.0.0.0:8080 \
    BAYBOOK_DATA=/data \
    BAYBOOK_LOG_FORMAT=json
VOLUME ["/data", "/backups"]
EXPOSE 8080
# The server ends its lines and keeps the batches in hand within ten seconds each.
STOPSIGNAL SIGTERM
HEALTHCHECK --interval=10s --timeout=5s --start-period=60s --retries=3 \
    CMD ["curl", "--fail", "--silent", "--show-error", "--output", "/dev/null", "http://127.0.0.1:8080/ready"]
ENTRYPOINT ["/usr/local/bin/baybook"]
CMD ["serve"]
