// What the screens cost: node measure.mjs [--json]. Time to the first screen, stalls while the map moves, size of the
// scripts. Figures of this machine and this run: reported, never tested.
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { answered, openBrowser, openSite, PHONE, SENSING, tellAnew, ui, withCompass } from './site.mjs'

const asJson = process.argv.includes('--json')
const STARTS = 7
/** A phone of some years ago against this machine's processor: the factor that browsers' own audits use. */
const SLOWER = [1, 4]

const median = (values) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]
const round = (value) => Math.round(value * 10) / 10

const slowed = async (page, times) => {
  const cdp = await page.context().newCDPSession(page)
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: times })
  return cdp
}

const began = performance.now()
const site = await openSite()
const serve_ms = performance.now() - began
const browser = await openBrowser()

/** From the request for the page until the first screen with its flights is painted, ms by the page's own clock. */
async function starts(times) {
  const all = []
  for (let i = 0; i < STARTS; i++) {
    const context = await browser.newContext(PHONE) // nothing cached
    const page = await context.newPage()
    await slowed(page, times)
    await page.addInitScript(() => {
      const look = () => {
        if (!document.querySelector('[data-flight]')) return void requestAnimationFrame(look)
        requestAnimationFrame(() => setTimeout(() => (window.usable_ms = performance.now())))
      }
      look()
    })
    await page.goto(site.address)
    await page.waitForFunction(() => window.usable_ms)
    all.push(await page.evaluate(() => window.usable_ms))
    await context.close()
  }
  return { median_ms: round(median(all)), worst_ms: round(Math.max(...all)) }
}

/** Watches the main thread while `move` goes on. */
async function stalls(page, move) {
  await page.evaluate(() => {
    const seen = { tasks: [], frames: [] }
    const observer = new PerformanceObserver((list) => seen.tasks.push(...list.getEntries().map((it) => it.duration)))
    observer.observe({ type: 'longtask' })
    let last = performance.now()
    let goesOn = true
    const frame = (now) => {
      seen.frames.push(now - last)
      last = now
      if (goesOn) requestAnimationFrame(frame)
    }
    requestAnimationFrame(frame)
    window.endWatch = () => {
      goesOn = false
      seen.tasks.push(...observer.takeRecords().map((it) => it.duration))
      return seen
    }
  })
  await move()
  const { tasks, frames } = await page.evaluate(() => window.endWatch())
  return { stalls: tasks.filter((it) => it > 50).length, worst_stall_ms: round(Math.max(0, ...tasks)), frames: frames.length, worst_frame_ms: round(Math.max(...frames)) }
}

const middleOf = async (page, what) => {
  const box = await page.locator(what).first().boundingBox()
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 }
}

/** One finger drags the sheet to and fro; then two draw it apart and together. */
async function dragged(page, cdp, what) {
  const { x, y } = await middleOf(page, what)
  const touch = (type, ...touchPoints) => cdp.send('Input.dispatchTouchEvent', { type, touchPoints })
  await touch('touchStart', { x, y })
  for (let i = 0; i < 90; i++) {
    await touch('touchMove', { x: x + 90 * Math.sin(i / 8), y: y + 60 * Math.sin(i / 5) })
    await page.waitForTimeout(16)
  }
  await touch('touchEnd')
  await touch('touchStart', { x: x - 40, y, id: 0 }, { x: x + 40, y, id: 1 })
  for (let i = 0; i < 60; i++) {
    const apart = 60 + 30 * Math.sin(i / 10)
    await touch('touchMove', { x: x - apart, y, id: 0 }, { x: x + apart, y, id: 1 })
    await page.waitForTimeout(16)
  }
  await touch('touchEnd')
  await page.waitForTimeout(400) // it glides to a rest
}

async function scenes(times) {
  const context = await browser.newContext(SENSING)
  const page = await context.newPage()
  await page.goto(site.address)
  const point = await withCompass(page, context, site.address)
  await point(60, -60)
  const heron = await tellAnew(page, 'heron-lost')
  const open = async (id) => {
    await page.goto('about:blank')
    await page.goto(site.address)
    await page.locator(`[data-flight="${id}"]`).click()
    await answered(page)
    await page.waitForTimeout(800)
  }
  const found = {}
  await open(heron)
  let cdp = await slowed(page, times)
  found['the answer, dragged and drawn apart'] = await stalls(page, () => dragged(page, cdp, '.sheet'))
  await slowed(page, 1)
  await page.getByRole('button', { name: 'Walk there' }).click()
  await page.locator('svg.arrow').waitFor()
  await page.waitForTimeout(500)
  await slowed(page, times)
  found['the walk, turning and walking'] = await stalls(page, async () => {
    for (let i = 0; i < 60; i++) {
      await point((i * 6) % 360, -60)
      if (i % 10 === 0) await context.setGeolocation({ latitude: 47.5312 + i * 2e-6, longitude: 17.2854, accuracy: 5 })
      await page.waitForTimeout(50)
    }
  })
  await slowed(page, 1)
  await open(await tellAnew(page, 'fieldfare-came-apart', (flight) => ({ ...flight, evidence: flight.evidence.filter((it) => it.kind !== 'saw') })))
  await page.getByRole('button', { name: 'Found it' }).click()
  await page.getByText('Noted where you stand').waitFor()
  await slowed(page, times)
  found['the rest slides across the field'] = await stalls(page, async () => {
    await page.getByRole('button', { name: 'Only this: lower' }).click()
    await page.locator('[data-rest]').waitFor({ timeout: 60_000 })
    await page.locator('canvas[data-share="1.00"]').waitFor()
  })
  await context.close()
  return found
}

/** Compressed as a server or a package would, bytes. */
function scripts() {
  const folder = join(ui, 'dist/assets')
  const sizes = readdirSync(folder)
    .filter((name) => name.endsWith('.js'))
    .map((name) => [name.replace(/-[^-]*\.js$/, ''), gzipSync(readFileSync(join(folder, name)), { level: 9 }).length])
  return { all_bytes: sizes.reduce((sum, [, size]) => sum + size, 0), each: Object.fromEntries(sizes) }
}

const figures = { serve_ms: round(serve_ms), start: {}, moving: {}, scripts: scripts() }
for (const times of SLOWER) {
  figures.start[`slowed ${times}x`] = await starts(times)
  figures.moving[`slowed ${times}x`] = await scenes(times)
}
await browser.close()
site.close()

if (asJson) console.log(JSON.stringify(figures))
else {
  console.log(`the program answers after ${figures.serve_ms} ms`)
  for (const [how, it] of Object.entries(figures.start)) console.log(`first screen, ${how}: ${it.median_ms} ms, worst of ${STARTS} ${it.worst_ms} ms (bar 1000)`)
  for (const [how, all] of Object.entries(figures.moving)) {
    for (const [scene, it] of Object.entries(all)) {
      console.log(`${scene}, ${how}: ${it.stalls} stalls over 50 ms, worst ${it.worst_stall_ms} ms; ${it.frames} frames, worst ${it.worst_frame_ms} ms`)
    }
  }
  console.log(`scripts, compressed: ${(figures.scripts.all_bytes / 1000).toFixed(1)} kB of 400 (${Object.entries(figures.scripts.each).map(([name, size]) => `${name} ${(size / 1000).toFixed(1)}`).join(', ')})`)
}
