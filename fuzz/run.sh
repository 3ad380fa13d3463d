#!/usr/bin/env bash
# Runs fuzz targets one after the other, and keeps count: fuzz/run.sh SECONDS [TARGET...]
#
# SECONDS for each target, all targets by default. Needs the nightly toolchain, cargo-fuzz and a corpus (fuzz/seed.py).
# With BIN=FOLDER nothing is built and the programs in that folder are run. fuzz/log.tsv gets a line a run: target, seconds
# on the clock, seconds of processor time, executions, exit status (0 is well). What broke something lies in
# fuzz/artifacts/<target>/.
set -euo pipefail
cd "$(dirname "$0")"
seconds=$1
shift
targets=("$@")
[ ${#targets[@]} -gt 0 ] || mapfile -t targets < <(sed -n 's/^name = "\([a-z_]*\)"$/\1/p' Cargo.toml)
if [ -z "${BIN:-}" ]; then
    cargo +nightly fuzz build --sanitizer none
    BIN=target/x86_64-unknown-linux-gnu/release
fi

for target in "${targets[@]}"; do
    # Longest inputs: what one run still does many times a second. Layouts and plans are long by nature.
    case $target in
        length | stairs) most=256 dict=text.dict ;;
        tables) most=1024 dict=text.dict ;;
        settings) most=16384 dict=text.dict ;;
        jsonl) most=8192 dict=text.dict ;;
        layout_json) most=40000 dict=text.dict ;;
        job) most=8192 dict=dxf.dict ;;
        *) most=16384 dict=dxf.dict ;;
    esac
    mkdir -p "corpus/$target" "artifacts/$target"
    out=$(mktemp) took=$(mktemp)
    status=0
    TIMEFORMAT=$'%0R\t%0U'
    { time "$BIN/$target" "corpus/$target" "-artifact_prefix=artifacts/$target/" "-dict=$dict" "-max_len=$most" \
        "-max_total_time=$seconds" -timeout=120 -rss_limit_mb=2048 -print_final_stats=1 >"$out" 2>&1; } 2>"$took" || status=$?
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$out")
    printf '%s\t%s\t%s\t%s\n' "$target" "$(tail -n 1 "$took")" "${runs:-?}" "$status" >>log.tsv
    rm "$took"
    if [ "$status" != 0 ]; then
        mv "$out" "artifacts/$target/$(date +%H%M%S).txt"
    else
        rm "$out"
    fi
done
