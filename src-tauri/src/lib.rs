//! The window: the same api as terminal and loopback HTTP, and nothing else.

#[cfg(desktop)]
mod field_day;

use serde_json::Value;
use std::sync::Arc;
use tauri::ipc::{InvokeResponseBody, Response};
use tauri::{Manager, State};
use windfall_api::{Api, ApiError, Code, Reply, Settings};

/// A call computes for a second or so: neither on the window's thread nor on those that carry messages.
#[tauri::command]
async fn call(api: State<'_, Arc<Api>>, name: String, args: Value) -> Result<Response, ApiError> {
    let api = Arc::clone(&api);
    let reply = tauri::async_runtime::spawn_blocking(move || api.call(&name, args))
        .await
        .map_err(|error| ApiError::new(Code::Defect, error.to_string()))??;
    Ok(Response::new(match reply {
        Reply::Json(text) => InvokeResponseBody::Json(text),
        Reply::Bytes(bytes) => InvokeResponseBody::Raw(bytes),
    }))
}

/// Where a phone starts; a desktop starts in `main.rs`.
#[cfg(mobile)]
#[tauri::mobile_entry_point]
fn start() {
    run().expect("a phone gives every program a window and a folder");
}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// When the system gives no window or no folder of its own to write in.
pub fn run() -> tauri::Result<()> {
    tauri::Builder::default()
        .setup(|app| {
            // The terminal's, where both ask the system for the same folder.
            let own = app.path().data_dir()?.join("windfall");
            let api = Api::new(Settings::default()).with_logbook_or_warning(&own);
            // What a phone's package holds are no files to the system: there all flights are the logbook's.
            #[cfg(desktop)]
            let api = api.with_day(&field_day::folder(app));
            app.manage(Arc::new(api));
            Ok(())
        })
        .invoke_handler(tauri::generate_handler![call])
        .run(tauri::generate_context!())
}
