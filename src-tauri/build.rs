//! Embeds the user interface and the permissions.
fn main() {
    println!("cargo:rerun-if-changed=../ui/dist"); // embedded, yet not watched by tauri-build itself
    tauri_build::build();
}
