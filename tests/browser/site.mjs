// What a browser test needs: the tools that live in ui/node_modules, a site to look at, a browser to look with.
import { spawn } from 'node:child_process'
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { createServer } from 'node:http'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { dirname, extname, join, normalize, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'

const here = dirname(fileURLToPath(import.meta.url))
export const ui = resolve(here, '../../ui')
const ofUi = createRequire(join(ui, 'package.json'))
const { chromium } = ofUi('playwright-core')
export const axeSource = await readFile(ofUi.resolve('axe-core/axe.min.js'), 'utf8')

const TYPES = { '.html': 'text/html', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml' }
const POLICY = "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; worker-src 'self' blob:"

/** The real core over loopback if WINDFALL_BIN names the program, else the screens with invented answers. */
export async function openSite() {
  const program = process.env.WINDFALL_BIN
  return program ? served(resolve(program)) : faked()
}

/** The real core as after a clean install: no flight yet, and an empty logbook that goes with it; or in a folder left before. */
export async function openClean(folder = mkdtempSync(join(tmpdir(), 'windfall-clean-'))) {
  const site = await served(resolve(process.env.WINDFALL_BIN), ['--day', folder, '--logbook', join(folder, 'logbook')])
  return {
    ...site,
    /** Asks the program to end, which then closes its logbook; the folder stays. */
    leave: async () => {
      await site.close('SIGINT')
      return folder
    },
    close: () => {
      site.close()
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

/** How a case runs on a clean install of its own: what it is called, on which device, what is done there. */
export const cleanly = (check, wanted) => async (sentence, options, body, more = {}) => {
  if (wanted && !wanted.test(sentence)) return
  const at = await openClean()
  try {
    await check(sentence, options, (page, context) => body(page, context, at), { ...more, at })
  } finally {
    at.close()
  }
}

/** Pictures to be looked at, if a folder is named for them. */
export async function shoot(page, name) {
  const folder = process.env.WINDFALL_SHOTS
  if (!folder) return
  mkdirSync(folder, { recursive: true })
  await page.waitForTimeout(500) // the map draws on its own frames
  await page.screenshot({ path: join(folder, `${name}.png`) })
}

async function served(program, more = ['--day', '../sample-data/flights', '--no-logbook']) {
  const child = spawn(program, ['serve', '--port', '0', '--ui', 'dist', ...more], {
    cwd: ui,
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  const address = await new Promise((found, failed) => {
    let said = ''
    const late = setTimeout(() => failed(new Error(`no address within 30 s, only: ${said}`)), 30_000)
    child.on('exit', (code) => failed(new Error(`${program} ended with ${code}: ${said}`)))
    child.stdout.on('data', (chunk) => {
      said += chunk
      const match = /http:\/\/\S+#token=\S+/.exec(said)
      if (!match) return
      clearTimeout(late)
      found(match[0])
    })
  })
  const close = (signal = 'SIGTERM') =>
    new Promise((done) => {
      child.removeAllListeners('exit')
      child.once('exit', done)
      child.kill(signal)
    })
  return { kind: 'windfall serve', isReal: true, address, close }
}

async function faked() {
  const root = resolve(ui, '../target/ui-fake')
  const server = createServer(async (request, response) => {
    const path = normalize(new URL(request.url, 'http://localhost').pathname)
    const file = join(root, path === '/' ? 'index.html' : path)
    try {
      const body = await readFile(file)
      response.writeHead(200, {
        'Content-Type': TYPES[extname(file)] ?? 'application/octet-stream',
        'Content-Security-Policy': POLICY,
      })
      response.end(body)
    } catch {
      response.writeHead(404).end()
    }
  })
  await new Promise((done) => server.listen(0, '127.0.0.1', done))
  const address = `http://127.0.0.1:${server.address().port}/`
  return { kind: 'invented answers', isReal: false, address, close: () => server.close() }
}

/** Debian's Chromium, without anything that would call out. */
export function openBrowser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  })
}

// Metres, as the sample day is told.
export const PHONE = { locale: 'en-NZ', viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true }
export const DESKTOP = { locale: 'en-NZ', viewport: { width: 1280, height: 800 } }

/** Waits until an answer with its map stands on the screen. */
export async function answered(page) {
  await page.locator('[data-figure="distance"]').waitFor({ timeout: 30_000 })
  await page.locator('[data-drawn-marks]').waitFor()
}

/** A phone that may know where it is and which way it points. */
export const SENSING = {
  ...PHONE,
  permissions: ['geolocation', 'accelerometer', 'gyroscope', 'magnetometer'],
  // Inside the invented field of the sample day, 60 m east of its pad.
  geolocation: { latitude: 47.5312, longitude: 17.2854, accuracy: 5 },
}

/** Gives the page an orientation sensor, and loads it again so that it listens. Returns what points it. */
export async function withCompass(page, context, address) {
  const cdp = await context.newCDPSession(page)
  for (const type of ['absolute-orientation', 'relative-orientation']) {
    await cdp.send('Emulation.setSensorOverrideEnabled', {
      enabled: true,
      type,
      metadata: { available: true, minimumFrequency: 1, maximumFrequency: 60 },
    })
  }
  await page.goto('about:blank')
  await page.goto(address)
  /** Points the back of an upright phone: degrees from the north of the sensor, degrees above the horizon. */
  return async (bearing_deg, elevation_deg) => {
    // W3C, Device Orientation, appendix A: alpha about up, then beta about the right edge; the camera of an upright
    // phone (beta 90) looks to -alpha, and beta beyond 90 raises it.
    const [a, b] = [(-bearing_deg * Math.PI) / 360, ((90 + elevation_deg) * Math.PI) / 360]
    const quaternion = { x: Math.cos(a) * Math.sin(b), y: Math.sin(a) * Math.sin(b), z: Math.sin(a) * Math.cos(b), w: Math.cos(a) * Math.cos(b) }
    await cdp.send('Emulation.setSensorOverrideReadings', { type: 'absolute-orientation', reading: { quaternion } })
  }
}

/** Asks the core as the page does: what a test needs that no tap brings, such as a day of the past. */
export const ask = (page, call, body) =>
  page.evaluate(
    async ([name, json]) => {
      const token = new URLSearchParams(location.hash.slice(1)).get('token')
      const headers = { 'Content-Type': 'application/json', Authorization: `Bearer ${token}` }
      const reply = await fetch(`/api/${name}`, { method: 'POST', headers, body: JSON.stringify(json) })
      if (!reply.ok) throw new Error(await reply.text())
      return reply.json()
    },
    [call, body],
  )

/** The same from outside of any page. */
export async function askAt({ address }, call, body) {
  const { origin, hash } = new URL(address)
  const headers = { 'Content-Type': 'application/json', Authorization: `Bearer ${new URLSearchParams(hash.slice(1)).get('token')}` }
  const reply = await fetch(`${origin}/api/${call}`, { method: 'POST', headers, body: JSON.stringify(body) })
  if (!reply.ok) throw new Error(await reply.text())
  return reply.json()
}

/** Tells the core a flight of the day anew, changed, and loads the page again; its identifier. */
export async function tellAnew(page, of, change = (flight) => flight) {
  const flight = await ask(page, 'show_flight', { id: of })
  const evidence = flight.evidence.filter((it) => it.kind !== 'find')
  const { id } = await ask(page, 'tell_flight', { flight: change({ ...flight, id: null, evidence }) })
  await page.reload()
  return id
}

/** A rocket of which only the motor is known, as nobody has found it yet. */
export const lostOne = (page) =>
  tellAnew(page, 'redpoll-letter-only', (flight) => {
    // What another case told of it is not known here.
    const [stage] = flight.rocket.stages
    return { ...flight, rocket: { ...flight.rocket, stages: [{ ...stage, splits_into: [] }] }, evidence: flight.evidence.filter((it) => it.kind === 'sighting') }
  })

/** Text at twice its size from the next load on, as the system may ask for it (WCAG 2.2, 1.4.4). */
export const twiceTheText = (page) =>
  page.addInitScript(() => new MutationObserver(() => document.documentElement?.style.setProperty('font-size', '200%')).observe(document, { childList: true }))

/** One finger from a place on the screen so many points down, or up. */
export async function swipe(page, { x, y }, down) {
  const cdp = await page.context().newCDPSession(page)
  const touch = (type, at) => cdp.send('Input.dispatchTouchEvent', { type, touchPoints: at === null ? [] : [{ x, y: at }] })
  await touch('touchStart', y)
  for (let part = 1; part <= 12; part++) await touch('touchMove', y + (down * part) / 12)
  await touch('touchEnd', null)
  // It glides on until it comes to rest.
  await page.evaluate(
    () =>
      new Promise((done) => {
        let last = NaN
        const look = () => {
          if (scrollY === last) done()
          else {
            last = scrollY
            setTimeout(look, 100)
          }
        }
        look()
      }),
  )
  await cdp.detach()
}

/** Counts what the flyer does: each tap and each hold is one. */
export function counted(page) {
  const taps = {
    count: 0,
    tap: async (locator) => {
      taps.count++
      await locator.tap()
    },
    /** Holds one finger down for `seconds`. */
    hold: async (locator, seconds, during = async () => undefined) => {
      taps.count++
      await locator.scrollIntoViewIfNeeded()
      const box = await locator.boundingBox()
      const at = { x: box.x + box.width / 2, y: box.y + box.height / 2 }
      const cdp = await page.context().newCDPSession(page)
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [at] })
      await during(cdp, at)
      await page.waitForTimeout(seconds * 1000)
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] })
    },
  }
  return taps
}

/** Notes down what the page says to the ear (hertz) and to the hand (milliseconds), as `window.heard` and `window.felt`. */
export async function overheard(page, { muted = false } = {}) {
  await page.addInitScript((isMuted) => {
    Object.assign(window, { heard: [], felt: [] })
    navigator.vibrate = (pattern) => window.felt.push(pattern) > 0
    if (isMuted) delete window.AudioContext
    else {
      const { start } = OscillatorNode.prototype
      OscillatorNode.prototype.start = function (...when) {
        window.heard.push(this.frequency.value)
        return start.apply(this, when)
      }
    }
  }, muted)
}

/**
 * Follows what rises over a pad and then falls like a stone, as the phone is held on it, until `seen`. `opening` is what
 * the core expects of it; `pad_m` is where the pad lies from the phone, m east and north. Returns seconds after the top.
 */
export async function followAStone(page, point, opening, pad_m, seen) {
  const top_m = (opening.apogee_low_m + opening.apogee_high_m) / 2
  const top_s = opening.expected_s
  const since = Date.now()
  for (;;) {
    const t_s = (Date.now() - since) / 1000
    const up_m = t_s < top_s ? top_m * (1 - (1 - t_s / top_s) ** 2) : top_m - 4.9 * (t_s - top_s) ** 2
    if (up_m < -1 || (await seen())) return t_s - top_s
    const bearing_deg = (Math.atan2(pad_m[0], pad_m[1]) * 180) / Math.PI
    await point(bearing_deg, (Math.atan2(Math.max(0, up_m), Math.hypot(...pad_m)) * 180) / Math.PI)
    await page.waitForTimeout(80)
  }
}
