# syntax=docker/dockerfile:1
# Builds the one program, then leaves the builder behind.
FROM rust:1-bookworm AS build
WORKDIR /purfle
COPY . .
RUN --mount=type=cache,target=/usr/local/cargo/registry \
    --mount=type=cache,target=/purfle/target \
    cargo build --release --locked --bin purfle \
    && cp target/release/purfle /usr/local/bin/purfle

FROM debian:bookworm-slim
# The number is fixed, so that a folder of the host can be given to it.
RUN useradd --system --uid 10001 --no-create-home --shell /usr/sbin/nologin purfle \
    && install --directory --owner=purfle --group=purfle --mode=0700 /data
COPY --from=build /usr/local/bin/purfle /usr/local/bin/purfle
USER purfle
# Backups and exports are written where the command is told to: relative names land in the volume.
WORKDIR /data
VOLUME /data
EXPOSE 8080
# It lets running requests finish for 10 s when it is told to stop.
STOPSIGNAL SIGTERM
# bash speaks enough HTTP to ask, so that no other program has to be in the image.
HEALTHCHECK --interval=10s --timeout=3s --start-period=30s --retries=3 \
    CMD ["bash", "-c", "exec 3<>/dev/tcp/127.0.0.1/8080 && printf 'GET /healthz HTTP/1.0\\r\\nHost: localhost\\r\\n\\r\\n' >&3 && read -r _ status _ <&3 && [ \"$status\" = 200 ]"]
ENTRYPOINT ["purfle"]
CMD ["serve", "--data", "/data", "--listen", "0.0.0.0:8080"]
