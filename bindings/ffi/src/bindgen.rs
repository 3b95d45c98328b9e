//! Generates Kotlin and Python from the built library; see `bindings/kotlin/generate.sh`.

fn main() {
    uniffi::uniffi_bindgen_main();
}
