# Not yet run on a machine with a container engine.
FROM rust:1.95-bookworm AS build
WORKDIR /src
COPY . .
RUN rustup target add wasm32-unknown-unknown \
 && cargo xtask client \
 && cargo build --release --package server --bin baybook

FROM debian:bookworm-slim
RUN useradd --create-home --uid 10001 baybook && install -d -o baybook /data
COPY --from=build /src/target/release/baybook /usr/local/bin/baybook
USER baybook
VOLUME /data
EXPOSE 8080
ENTRYPOINT ["baybook"]
CMD ["serve", "--listen", "0.0.0.0:8080", "--data", "/data"]
