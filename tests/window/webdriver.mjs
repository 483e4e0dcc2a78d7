// The real window on a screen of its own, driven through WebKitWebDriver. Plain fetch, no dependency.
import { spawn } from 'node:child_process'
import { mkdtemp, rm } from 'node:fs/promises'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as pause } from 'node:timers/promises'

/** The key under which the protocol hides an element's identifier. */
const ELEMENT = 'element-6066-11e4-a52e-4f735466cecf'

/** Tries until it works; then, the last reason. */
export async function eventually(what, attempt, seconds = 20) {
  const end = Date.now() + seconds * 1000
  for (;;) {
    try {
      return await attempt()
    } catch (error) {
      if (Date.now() > end) throw new Error(`${what}: not within ${seconds} s`, { cause: error })
      await pause(100)
    }
  }
}

/** A virtual screen with a number nobody else uses: the server picks it and writes it to descriptor 3. */
export async function openScreen() {
  const server = spawn('Xvfb', ['-displayfd', '3', '-screen', '0', '1280x900x24', '-nolisten', 'tcp'], {
    stdio: ['ignore', 'ignore', 'inherit', 'pipe'],
  })
  const number = await new Promise((resolve, reject) => {
    server.once('error', reject)
    server.once('exit', (code) => reject(new Error(`Xvfb ended with ${code}`)))
    server.stdio[3].once('data', (data) => resolve(String(data).trim()))
  })
  return { display: `:${number}`, close: () => end(server) }
}

/** Starts the program under a driver of its own, with empty folders for what it keeps. */
export async function openWindow({ program, args, display }) {
  const home = await mkdtemp(join(tmpdir(), 'windfall-window-'))
  const port = await freePort()
  const driver = spawn('WebKitWebDriver', ['--host=127.0.0.1', `--port=${port}`], {
    stdio: ['ignore', 'inherit', 'inherit'],
    env: {
      ...process.env,
      DISPLAY: display,
      WAYLAND_DISPLAY: '',
      TAURI_WEBVIEW_AUTOMATION: 'true', // without it a new session hangs
      MESA_SHADER_CACHE_DISABLE: 'true', // or it writes on while its folder is being removed
      XDG_DATA_HOME: join(home, 'data'),
      XDG_CONFIG_HOME: join(home, 'config'),
      XDG_CACHE_HOME: join(home, 'cache'),
    },
  })
  const tidyUp = async () => {
    await end(driver)
    // The web view's processes outlive the driver by a moment and still write into their caches.
    await eventually('its folders are gone', () => rm(home, { recursive: true, force: true }))
  }
  const failed = new Promise((_, reject) => driver.once('error', reject))
  const call = async (method, path, body) => {
    const response = await fetch(`http://127.0.0.1:${port}${path}`, {
      method,
      body: body === undefined ? null : JSON.stringify(body),
      signal: AbortSignal.timeout(60_000),
    })
    const { value } = await response.json()
    if (!response.ok) throw new Error(`${method} ${path}: ${value?.error}: ${value?.message}`)
    return value
  }
  try {
    await Promise.race([failed, eventually('the driver answers', () => call('GET', '/status'))])
    const wanted = { 'webkitgtk:browserOptions': { binary: program, args } }
    const { sessionId } = await call('POST', '/session', { capabilities: { alwaysMatch: wanted } })
    return new Window((method, path, body) => call(method, `/session/${sessionId}${path}`, body), async () => {
      await call('DELETE', `/session/${sessionId}`).catch(() => {}) // it may have died, as a test then says
      await tidyUp()
    })
  } catch (error) {
    await tidyUp()
    throw error
  }
}

class Window {
  #call
  constructor(call, close) {
    this.#call = call
    this.close = close
  }

  title() {
    return this.#call('GET', '/title')
  }

  resize(width, height) {
    return this.#call('POST', '/window/rect', { x: 0, y: 0, width, height })
  }

  /** Runs `script` in the page; what it returns, promises awaited. */
  async run(script, ...args) {
    const body = `const done = arguments[arguments.length - 1];
      (async (...args) => { ${script} })(...Array.prototype.slice.call(arguments, 0, -1))
        .then((value) => done({ value }), (error) => done({ error: String(error?.message ?? error) }))`
    const { value, error } = await this.#call('POST', '/execute/async', { script: body, args })
    if (error !== undefined) throw new Error(error)
    return value
  }

  /** All the words on the screen. */
  words() {
    return this.run('return document.body.innerText')
  }

  /** Clicks the first element of a selector once it is there, as a mouse would. */
  async press(selector) {
    await eventually(`${selector} can be pressed`, async () => {
      const found = await this.#call('POST', '/element', { using: 'css selector', value: selector })
      await this.#call('POST', `/element/${found[ELEMENT]}/click`, {})
    })
  }

  /** The page as PNG. */
  async picture() {
    return Buffer.from(await this.#call('GET', '/screenshot'), 'base64')
  }
}

function freePort() {
  return new Promise((resolve, reject) => {
    const server = createServer()
    server.once('error', reject)
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address()
      server.close(() => resolve(port))
    })
  })
}

function end(child) {
  if (child.exitCode !== null || child.signalCode !== null || child.pid === undefined) return
  return new Promise((resolve) => {
    child.once('exit', resolve)
    child.kill()
  })
}
