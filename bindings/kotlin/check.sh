#!/usr/bin/env bash
# Usage: bindings/kotlin/check.sh [full|deep]
# Generates Kotlin from the library, compiles it with warnings as errors and drives the whole job on a
# JVM. `deep`: 10,000 captures instead of 500 in the test of memory.
set -euo pipefail
cd "$(dirname "$0")"
captures=500
[ "${1:-}" = deep ] && captures=10000
./generate.sh fault
# One small file decides whether Maven Central can be reached at all; a failure after it is a failure.
if ! mvn -q -B -f pom.xml dependency:get -Dartifact=junit:junit:4.13.2:pom -Dtransitive=false >/dev/null 2>&1; then
  echo "SKIPPED: the door from Kotlin: Maven Central cannot be reached"; exit 0
fi
mvn -q -B -f pom.xml test "-Dcaptures=$captures"
for report in ../../target/door-check/surefire-reports/*.txt; do sed -n 4p "$report"; done
grep -h "^door:" ../../target/door-check/surefire-reports/*-output.txt 2>/dev/null || true
