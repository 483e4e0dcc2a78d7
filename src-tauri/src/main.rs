//! The window as the program of a desktop.
#![cfg_attr(not(debug_assertions), windows_subsystem = "windows")]

fn main() -> tauri::Result<()> {
    windfall_window::run()
}
