package org.windfall.finder

import android.content.ClipData
import android.content.Intent
import android.os.Build
import android.os.Bundle
import android.os.PowerManager
import android.util.Base64
import android.view.View
import android.view.WindowManager
import android.webkit.JavascriptInterface
import android.webkit.WebView
import androidx.activity.enableEdgeToEdge
import androidx.core.content.FileProvider
import androidx.core.view.ViewCompat
import androidx.core.view.WindowInsetsCompat
import java.io.File

/** The only activity: a web view with the pages of `ui`. */
class MainActivity : TauriActivity() {
  override fun onCreate(savedInstanceState: Bundle?) {
    enableEdgeToEdge()
    super.onCreate(savedInstanceState)
    keepClearOfBars(findViewById(android.R.id.content))
  }

  override fun onWebViewCreate(webView: WebView) {
    webView.addJavascriptInterface(Screen(), "windfallScreen")
    webView.addJavascriptInterface(Files(), "windfallFiles")
  }

  /** No page lies under the system's bars, a camera hole or the keyboard, upright or turned. */
  private fun keepClearOfBars(content: View) {
    val covered = WindowInsetsCompat.Type.systemBars() or
      WindowInsetsCompat.Type.displayCutout() or
      WindowInsetsCompat.Type.ime()
    ViewCompat.setOnApplyWindowInsetsListener(content) { view, insets ->
      val edge = insets.getInsets(covered)
      view.setPadding(edge.left, edge.top, edge.right, edge.bottom)
      WindowInsetsCompat.CONSUMED
    }
  }

  /**
   * What the pages call `windfallFiles`: a file leaves by Android's own sheet, which also saves it, for the web view neither
   * shares nor saves one. `sharing.ts` in `ui/src/lib/device` is its only caller.
   */
  private inner class Files {
    private var leaving: File? = null

    /** Begins a file of that name, in place of the one before. */
    @JavascriptInterface
    fun begin(name: String) {
      val folder = File(cacheDir, "leaving")
      folder.deleteRecursively()
      folder.mkdirs()
      leaving = File(folder, name.replace(Regex("[^\\w .-]"), "_"))
    }

    /** Puts bytes, as base64, behind those that came before. */
    @JavascriptInterface
    fun add(base64: String) {
      leaving?.appendBytes(Base64.decode(base64, Base64.DEFAULT))
    }

    /** Asks the flyer where the file is to go. */
    @JavascriptInterface
    fun hand(type: String) {
      val file = leaving ?: return
      val address = FileProvider.getUriForFile(this@MainActivity, "$packageName.fileprovider", file)
      val send = Intent(Intent.ACTION_SEND).apply {
        setType(type)
        putExtra(Intent.EXTRA_STREAM, address)
        clipData = ClipData.newRawUri(file.name, address)
        addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION)
      }
      runOnUiThread { startActivity(Intent.createChooser(send, null)) }
    }
  }

  /** What the pages call `windfallScreen`; `wakelock.ts` and `heat.ts` in `ui/src/lib/device` are its only callers. */
  private inner class Screen {
    /** Keeps the screen lit while the program is in front; Android itself lets go of it behind another one. */
    @JavascriptInterface
    fun keepLit(lit: Boolean) = runOnUiThread {
      if (lit) window.addFlags(WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON)
      else window.clearFlags(WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON)
    }

    /** Whether Android itself slows the phone down because it is hot; older versions do not tell. */
    @JavascriptInterface
    fun isHot(): Boolean =
      Build.VERSION.SDK_INT >= Build.VERSION_CODES.Q &&
        getSystemService(PowerManager::class.java).currentThermalStatus >= PowerManager.THERMAL_STATUS_SEVERE
  }
}
