//! Embeds the user interface and the permissions.
fn main() {
    tauri_build::build();
}
