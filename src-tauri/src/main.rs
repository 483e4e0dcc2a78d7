//! The window: the same api as terminal and loopback HTTP, and nothing else.
#![cfg_attr(not(debug_assertions), windows_subsystem = "windows")]

use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;
use tauri::ipc::{InvokeResponseBody, Response};
use tauri::path::BaseDirectory;
use tauri::{App, Manager, State};
use windfall_api::{Api, ApiError, Code, Reply, Settings};

/// Where the field day lies under the working folder or the resources of the package.
const SAMPLE_DAY: &str = "sample-data/flights";

#[tauri::command]
async fn call(api: State<'_, Arc<Api>>, name: String, args: Value) -> Result<Response, ApiError> {
    answer(api.inner().clone(), name, args).await
}

#[tauri::command]
async fn landing_density(api: State<'_, Arc<Api>>, args: Value) -> Result<Response, ApiError> {
    answer(api.inner().clone(), "landing_density".into(), args).await
}

/// A call computes for a second or so: neither on the window's thread nor on those that carry messages.
async fn answer(api: Arc<Api>, name: String, args: Value) -> Result<Response, ApiError> {
    let reply = tauri::async_runtime::spawn_blocking(move || api.call(&name, args))
        .await
        .map_err(|error| ApiError { code: Code::Defect, message: error.to_string() })??;
    Ok(Response::new(match reply {
        Reply::Json(text) => InvokeResponseBody::Json(text),
        Reply::Bytes(bytes) => InvokeResponseBody::Raw(bytes),
    }))
}

/// The folder of flights: named by argument or `WINDFALL_DAY`, else the sample day.
fn field_day(app: &App) -> PathBuf {
    let named = std::env::args_os().nth(1).or_else(|| std::env::var_os("WINDFALL_DAY"));
    let here = PathBuf::from(SAMPLE_DAY);
    named.map(PathBuf::from).unwrap_or_else(|| {
        let packaged = app.path().resolve(SAMPLE_DAY, BaseDirectory::Resource).ok();
        if here.is_dir() { here } else { packaged.unwrap_or(here) }
    })
}

fn main() -> tauri::Result<()> {
    tauri::Builder::default()
        .setup(|app| {
            let day = field_day(app);
            // The terminal's, where both ask the system for the same folder.
            let own = app.path().data_dir()?.join("windfall");
            let api = Api::new(Settings::default()).with_day(&day).with_logbook_or_warning(&own);
            app.manage(Arc::new(api));
            Ok(())
        })
        .invoke_handler(tauri::generate_handler![call, landing_density])
        .run(tauri::generate_context!())
}
