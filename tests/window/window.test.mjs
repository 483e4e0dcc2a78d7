// The real window: it starts, lists the flights, answers, draws, and survives a bad call.
import assert from 'node:assert/strict'
import { execFileSync } from 'node:child_process'
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { after, afterEach, before, beforeEach, test } from 'node:test'
import { fileURLToPath } from 'node:url'
import { eventually, openScreen, openWindow } from './webdriver.mjs'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const PROGRAM = process.env.WINDFALL_APP ?? join(ROOT, 'target/debug/windfall-app')
const FLIGHTS = join(ROOT, 'sample-data/flights')
const PICTURES = join(ROOT, 'target/xtask/window')

const flights = readdirSync(FLIGHTS)
  .filter((name) => name.endsWith('.json'))
  .map((name) => ({ file: name, ...JSON.parse(readFileSync(join(FLIGHTS, name), 'utf8')) }))
const lost = flights.find(({ file }) => file === 'heron-lost.json')

let screen
let window

before(async () => {
  mkdirSync(PICTURES, { recursive: true })
  screen = await openScreen()
})
after(() => screen?.close())
beforeEach(async () => {
  window = await openWindow({ program: PROGRAM, args: [FLIGHTS], display: screen.display })
})
afterEach(() => window?.close())

/** The whole virtual screen: what a person would see. */
function keepScreen(name) {
  const file = join(PICTURES, `${name}.png`)
  execFileSync('import', ['-display', screen.display, '-window', 'root', file])
  return file
}

/** Different colours in a part of a picture. */
function colours(file, { width, height, left, top }) {
  const crop = `${Math.floor(width)}x${Math.floor(height)}+${Math.floor(left)}+${Math.floor(top)}`
  return Number(execFileSync('convert', [file, '-crop', crop, '+repage', '-format', '%k', 'info:'], { encoding: 'utf8' }))
}

async function saysAll(...wanted) {
  await eventually(`the screen says ${wanted.join(', ')}`, async () => {
    const words = await window.words()
    for (const it of wanted) assert.match(words, it)
  })
}

async function chooseTheLostFlight() {
  await window.press('[data-flight="heron-lost"]')
  await saysAll(/\bm\b|\bft\b/, /°/, /Why there/i)
}

/** The map's place once the real screen shows shading on it, which the page may be a moment ahead of. */
async function drawn(name) {
  return await eventually('a map with its shading on the screen', async () => {
    const box = await window.run(`
      const canvas = document.querySelector('canvas')
      if (!canvas) throw new Error('no canvas')
      const { width, height, left, top } = canvas.getBoundingClientRect()
      return { width, height, left, top, page: innerWidth, sideways: document.documentElement.scrollWidth }`)
    assert.ok(box.width > 200 && box.height > 150, `the map is only ${box.width} x ${box.height}`)
    const count = colours(keepScreen(name), box)
    // Letters and lines alone have up to two thousand, by their smoothed edges; the shading adds thousands.
    assert.ok(count > 3000, `only ${count} colours`)
    return box
  })
}

test('the window opens on the list of all sample flights', async () => {
  assert.ok(flights.length >= 8, 'the sample field day has at least eight flights')
  assert.match(await eventually('a title', () => window.title()), /Windfall/)
  await saysAll(...flights.map(({ title }) => new RegExp(title.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'))))
  await eventually('the list on the screen', async () => {
    const count = colours(keepScreen('flights'), { width: 1180, height: 800, left: 0, top: 0 })
    assert.ok(count > 50, `only ${count} colours`)
  })
})

test('choosing the lost flight answers in words: how far, which way, why, and the caution first', async () => {
  await chooseTheLostFlight()
  const words = await window.words()
  assert.match(words, /Start (here|at)/i)
  const caution = words.search(/before you walk/i)
  const why = words.search(/why there/i)
  assert.ok(caution >= 0 && caution < why, 'the caution stands before the reasons')
})

test('the map on the real screen is drawn, not blank', async () => {
  await chooseTheLostFlight()
  await drawn('answer')
  writeFileSync(join(PICTURES, 'answer-page.png'), await window.picture())
})

test('a window as small as a phone shows answer and map with nothing cut off sideways', async () => {
  await window.resize(420, 800)
  await chooseTheLostFlight()
  const box = await drawn('phone')
  assert.ok(box.page <= 420, `the page is ${box.page} wide`)
  assert.ok(box.sideways <= box.page, `${box.sideways} wide in a page of ${box.page}`)
})

test('a bad call is refused in words and the window lives on', async () => {
  await saysAll(/Which flight/i)
  const call = (name, args) =>
    window.run(
      `return await window.__TAURI_INTERNALS__.invoke('call', { name: args[0], args: args[1] })
        .then((value) => ({ value }), (refusal) => ({ refusal }))`,
      name,
      args,
    )
  for (const [name, args] of [['show_flight', { id: 'no-such-flight' }], ['show_flight', {}], ['no_such_call', {}], ['locate_flight', { id: 7 }]]) {
    const { refusal } = await call(name, args)
    assert.ok(refusal?.code && refusal.message, `${name} ${JSON.stringify(args)}: ${JSON.stringify(refusal)}`)
  }
  const { value } = await call('list_flights', {})
  assert.equal(value.length, flights.length)
  await chooseTheLostFlight()
})
