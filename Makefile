# Two commands do everything: `make run` starts the demo, `make test` runs every test. Each installs what it needs.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help

# What a build needs: the ALSA headers for the loudspeakers, and a C compiler for SQLite.
BUILD_PACKAGES := gcc libc6-dev libasound2-dev pkg-config
# What the tests need besides: two browsers, the engine of one of them without its windows, a reader of the pages it
# prints, an audio daemon with a null sink, and what counts instructions.
TEST_PACKAGES := chromium chromium-headless-shell firefox-esr fonts-dejavu-core poppler-utils pulseaudio pulseaudio-utils libasound2-plugins valgrind
# What the benches compare with, and what counts system calls.
BENCH_PACKAGES := mosquitto nats-server redis-server strace
# What MIDI over JACK needs, to build and to test.
JACK_PACKAGES := jackd2 libjack-jackd2-dev
# What builds libFuzzer.
FUZZ_PACKAGES := g++

export CARGO_TERM_COLOR ?= auto

.PHONY: help run test begin test-jack build-packages test-packages check-rust check-clients test-rust test-instructions renew-instructions test-clients test-browser test-firefox check-guide check-dependencies bench fuzz format

help:
	@echo "make run     build what is missing and start the demo"
	@echo "make test    run every test: Rust, TypeScript, browser, audio"
	@echo "make format  put every file into its usual form"
	@echo "make bench   measure what must be fast"
	@echo "make fuzz TARGET=score SECONDS=600   look for bytes that a reader does not bear, guided by coverage"

run: build-packages
	cargo run --release -- demo

test: begin test-packages check-rust check-guide check-dependencies test-rust test-instructions check-clients test-clients test-browser test-firefox test-jack
	@.ci/timed end

begin:
	@.ci/timed begin

build-packages:
	@.ci/packages $(BUILD_PACKAGES)

test-packages:
	@.ci/timed "system packages" .ci/packages $(BUILD_PACKAGES) $(TEST_PACKAGES)

check-rust:
	cargo fmt --check
	@.ci/timed "lints" cargo clippy --all-targets --bench instructions --bench sound_ten_minutes --bench ten_years -- -D warnings

# What is measured on a running sound device is measured alone: other tests would take its processor away.
test-rust:
	@.ci/timed "build of the Rust tests" cargo test --no-run
	@.ci/timed "Rust tests" cargo test -- --skip sound_live
	@.ci/timed "live sound" cargo test --test it sound_live -- --test-threads=1

# What the hot paths cost, in instructions, held against what is kept (benches/instructions.rs).
test-instructions:
	@.ci/timed "instructions of the hot paths" cargo test --bench instructions

# Keeps the counts of now. Built as .ci/run builds, and only on purpose: the commit says why a path costs more or less.
renew-instructions:
	@.ci/packages valgrind
	CARGO_INCREMENTAL=0 CARGO_PROFILE_DEV_DEBUG=none cargo test --bench instructions -- renew

# MIDI over a real JACK daemon with its dummy driver. The library is built once more for it, so without optimisation.
test-jack:
	@.ci/packages $(BUILD_PACKAGES) $(JACK_PACKAGES)
	@CARGO_PROFILE_DEV_OPT_LEVEL=0 .ci/timed "MIDI over JACK" cargo test --features jack --test jack -- --test-threads=1 --nocapture

check-guide:
	.ci/guide

# Licences, withdrawn versions, and known holes where the registry keeps a list of them.
check-dependencies:
	@node .ci/dependencies.mjs

clients/node_modules: clients/package-lock.json
	npm --prefix clients ci --no-audit --no-fund
	@touch $@

check-clients: clients/node_modules
	@.ci/timed "types of the pages" npm --prefix clients run check
	npm --prefix clients run format:check

test-clients: clients/node_modules
	@.ci/timed "tests of the pages' core" npm --prefix clients test

# The binary that `cargo test` has made: `cargo build` would build half of everything again with other features.
test-browser: clients/node_modules
	cargo test --no-run
	@.ci/timed "tests in a browser" npm --prefix clients run browser

# The same binary once more, with another engine in front of it.
test-firefox: clients/node_modules
	cargo test --no-run
	@.ci/timed "an evening in Firefox" npm --prefix clients run firefox

# The brokers are started by the bench, on ports of their own; the services of their packages are no part of it.
bench: build-packages
	@.ci/packages $(BENCH_PACKAGES)
	cargo bench

# One reader for as long as is asked: TARGET is a folder of fuzz/corpus. `make test` runs all of them, bounded.
fuzz: build-packages
	@.ci/packages $(FUZZ_PACKAGES)
	@.ci/fuzz "$(TARGET)" "$(SECONDS)"

format: clients/node_modules
	cargo fmt
	npm --prefix clients run format
