# The image holds one static program and the certificates it checks brokers against: no shell, no package manager,
# nothing to patch but the program itself. That is why the last stage is "scratch". What is missing there by design:
#   - names of users and groups: give numbers;
#   - time zones: the bridge works in UTC throughout.
#
# Build:  docker build -t manobridge .
# Run:    docker run --restart=unless-stopped --stop-timeout 30 \
#           -v /srv/manobridge:/etc/manobridge:ro -v manobridge-journal:/var/lib/manobridge \
#           --device /dev/ttyUSB0 --group-add "$(stat -c %g /dev/ttyUSB0)" manobridge
#
# Serial devices belong to the group dialout (20 on Debian). The program does not run as root, so the number of that
# group is handed over with --group-add, as above. An adapter named by its USB identity (usb: in the configuration)
# moves between ttyUSB numbers: hand over all it may get, or --device-cgroup-rule 'c 188:* rw' with -v /dev:/dev.

FROM --platform=$BUILDPLATFORM golang:1.26-bookworm AS build
WORKDIR /src

COPY go.mod go.sum ./
RUN --mount=type=cache,target=/go/pkg/mod go mod download

COPY . .
ARG TARGETOS=linux
ARG TARGETARCH
ARG TARGETVARIANT
# No cgo: the program must not look for a C library that scratch does not have.
# TARGETVARIANT is v6 or v7 on 32-bit ARM and empty or v8 elsewhere, where GOARM is not read.
RUN --mount=type=cache,target=/go/pkg/mod --mount=type=cache,target=/root/.cache/go-build \
    CGO_ENABLED=0 GOOS=$TARGETOS GOARCH=$TARGETARCH GOARM=${TARGETVARIANT#v} \
    go build -trimpath -ldflags="-s -w" -o /out/manobridge ./cmd/manobridge
# The journal's directory is made here because scratch cannot make one; the file in it keeps the copy from being empty.
RUN mkdir -p /out/journal && touch /out/journal/.keep

FROM scratch
ARG VERSION=unreleased
LABEL org.opencontainers.image.title="manobridge" \
      org.opencontainers.image.description="Digitized manometer columns over serial to pressures with stated uncertainty, on MQTT and in a time-series store" \
      org.opencontainers.image.licenses="MIT" \
      org.opencontainers.image.version="$VERSION"

COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
COPY --from=build /src/LICENSE /LICENSE
COPY --from=build --chown=65532:65532 /out/journal /var/lib/manobridge
COPY --from=build /out/manobridge /manobridge

# A number, because scratch has no list of names; high, because no person or service of the host has it.
USER 65532:65532

# Scratch has no /tmp; the journal's volume is the one place the user may write. A relative journal path lands there too.
ENV TMPDIR=/var/lib/manobridge
WORKDIR /var/lib/manobridge
VOLUME ["/etc/manobridge", "/var/lib/manobridge"]

# The first SIGTERM drains within run.drain (10 s unless stated); the engine must wait longer than that, hence the
# --stop-timeout above.
STOPSIGNAL SIGTERM

# Status 0 while a bridge holds the journal; it opens no port and no connection.
HEALTHCHECK --interval=60s --timeout=20s --start-period=20s --retries=3 \
    CMD ["/manobridge", "health", "-c", "/etc/manobridge/manobridge.yaml"]

ENTRYPOINT ["/manobridge"]
CMD ["run", "-c", "/etc/manobridge/manobridge.yaml"]
