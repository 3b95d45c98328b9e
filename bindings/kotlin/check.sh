#!/usr/bin/env bash
# Usage: bindings/kotlin/check.sh [deep]
# Generates Kotlin from the library, compiles it with warnings as errors and drives the whole job on a
# JVM. `deep`: 10,000 captures instead of 500 in the test of memory.
set -euo pipefail
cd "$(dirname "$0")"
captures=500
[ "${1:-}" = deep ] && captures=10000
./generate.sh fault
mvn -q -B -f pom.xml test "-Dcaptures=$captures"
for report in ../../target/door-check/surefire-reports/*.txt; do sed -n 4p "$report"; done
grep -h "^door:" ../../target/door-check/surefire-reports/*-output.txt 2>/dev/null || true
