// The logbook kept safe: out of one install and into another, checked, backed up, and back to a backup.
import assert from 'node:assert/strict'
import { readdir, readFile, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { ask, askAt, DESKTOP, openClean, SENSING, shoot } from './site.mjs'

const PAD = { lat: SENSING.geolocation.latitude, lon: SENSING.geolocation.longitude }
/** One red dot as PNG (W3C, PNG), made with a library. */
const DOT = 'data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAIAAACQd1PeAAAADElEQVR4nGP4z8AAAAMBAQDJ/pLvAAAAAElFTkSuQmCC'

const flightOf = (day, name) => ({
  format: 'windfall-flight/1', id: `${name}-${day}`, title: `${name}, day ${day}`, pad: PAD, wind: [{ speed_mps: 3, from_deg: 180 }],
  rocket: { name, stages: [{ motor: 'C6-5', recovery: { kind: 'parachute' } }] },
  launch: { at: `2026-05-0${day}T10:00:00+02:00` },
  evidence: [{ kind: 'sighting', moment: 'lost', t_s: 41, bearing_deg: 5 }, { kind: 'find', part: 'rocket', at: { lat: PAD.lat + 0.002, lon: PAD.lon } }],
})
const tell = (at, day, name) => askAt(at, 'tell_flight', { flight: flightOf(day, name) })
const rows = (at) => askAt(at, 'list_log', {})
const button = (page, name) => page.getByRole('button', { name, exact: true })
const open = async (page) => {
  await page.locator('[data-calm="safe"]').click()
  await page.getByRole('heading', { level: 1, name: 'Keep it safe' }).waitFor()
}

/** Touches what takes something out; the file that came. */
async function taken(page, format) {
  const coming = page.waitForEvent('download')
  await page.locator(`[data-out="${format}"]`).click()
  const file = await coming
  return { name: file.suggestedFilename(), bytes: await readFile(await file.path()) }
}

const put = (page, name, bytes) => page.locator('input[type="file"]').setInputFiles({ name, mimeType: 'application/octet-stream', buffer: Buffer.from(bytes) })

export async function safes({ check, site, sound, wanted }) {
  if (!site.isReal) return
  const skipped = (sentence) => wanted && !wanted.test(sentence)

  const moved = 'a logbook leaves one phone as one file, and comes into another whole, once'
  if (!skipped(moved)) {
    const [here, there] = [await openClean(), await openClean()]
    try {
      for (const day of [1, 2, 3]) await tell(here, day, 'Linnet')
      await askAt(here, 'keep_photo', { of: 'flight', id: 'Linnet-2', data: DOT })
      await tell(there, 3, 'Linnet')
      await tell(there, 4, 'Wren')
      let archive = null
      await check(`${moved}: out`, SENSING, async (page) => {
        await open(page)
        await page.getByText('3 flights on 3 days, 1 photo.').waitFor()
        await page.getByText('No backup yet.').waitFor()
        await sound(page)
        await shoot(page, 'safe')
        archive = await taken(page, 'archive')
        assert.match(archive.name, /^windfall-\d{4}-\d\d-\d\d\.jsonl$/)
        await page.locator('[data-left]').waitFor()
        await page.getByRole('button', { name: /^Flights for other programs/ }).click()
        await sound(page)
        for (const [format, begins] of [['gpx', '<?xml'], ['geojson', '{'], ['kml', '<?xml'], ['csv', 'flight,']]) {
          const { name, bytes } = await taken(page, format)
          assert.ok(name.endsWith(`.${format}`) && bytes.toString().startsWith(begins), `${name}: ${bytes.subarray(0, 40)}`)
          for (const day of [1, 2, 3]) assert.ok(bytes.includes(`Linnet-${day}`), format)
          await page.locator('[data-left]', { hasText: name }).waitFor()
        }
      }, { at: here })
      await check(`${moved}: in`, SENSING, async (page) => {
        assert.ok(archive, 'it came out')
        await open(page)
        await put(page, archive.name, archive.bytes)
        await page.getByText(/^2 flights came in, 1 was here already\./).waitFor()
        await page.getByText('4 flights on 4 days, 1 photo.').waitFor()
        await sound(page)
        await shoot(page, 'safe-in')
        const after = await rows(there)
        assert.deepEqual(after.map((it) => it.name), ['Linnet-1', 'Linnet-2', 'Linnet-3', 'Wren-4'])
        assert.deepEqual(after.slice(0, 3), await rows(here))
        assert.equal((await ask(page, 'photos', { of: 'flight', id: 'Linnet-2' }))[0].data, DOT)
        await put(page, 'again.jsonl', archive.bytes)
        await page.getByText(/^0 flights came in, 3 were here already\./).waitFor()
        await page.getByText('Nothing in it was new.').waitFor()
        assert.deepEqual(await rows(there), after)
        await button(page, 'Check now').click()
        await page.locator('[data-checked="0"]').waitFor()
      }, { at: there })
      await check(
        `${moved}: cut off it is refused whole`,
        SENSING,
        async (page) => {
          const before = await rows(there)
          await open(page)
          await put(page, 'cut.jsonl', archive.bytes.subarray(0, archive.bytes.length - 9))
          await page.getByRole('alert').filter({ hasText: 'nothing of it is taken' }).waitFor()
          assert.deepEqual(await rows(there), before)
        },
        { mayLog: true, at: there },
      )
    } finally {
      here.close()
      there.close()
    }
  }

  const places = 'places of another device go into the flight they belong to, and a bad file into none'
  if (!skipped(places)) {
    const at = await openClean()
    try {
      await tell(at, 1, 'Linnet')
      await check(places, SENSING, async (page) => {
        const gpx = `<gpx version="1.1" creator="-">\n<wpt lat="${PAD.lat}" lon="${PAD.lon}"><name>rocket</name></wpt></gpx>`
        const facts = () => ask(page, 'show_log', { flight: 'Linnet-1' }).then((it) => it.words.length)
        const before = await facts()
        await open(page)
        await put(page, 'walk.gpx', gpx.replace('lat="47', 'lat="47,'))
        await page.getByRole('alert').filter({ hasText: /line 2.*lat/ }).waitFor()
        assert.equal(await facts(), before)
        await put(page, 'walk.gpx', gpx)
        await page.getByText('1 place or track.').waitFor()
        assert.equal(await facts(), before)
        await page.getByRole('radio', { name: /Linnet, day 1/ }).click({ force: true })
        await page.getByText('Linnet, day 1: In all 1 note was new.').waitFor()
        assert.equal(await facts(), before + 1)
        await sound(page)
      }, { mayLog: true, at })
    } finally {
      at.close()
    }
  }

  const damaged = 'a damaged logbook is said, its backup is offered and used, and the damaged file is kept'
  for (const [device, options] of Object.entries({ phone: SENSING, desktop: DESKTOP })) {
    const sentence = `${damaged}, on a ${device}`
    if (skipped(sentence)) continue
    const first = await openClean()
    for (const day of [1, 2]) await tell(first, day, 'Linnet')
    await askAt(first, 'back_up', {})
    await tell(first, 3, 'Linnet')
    const folder = await first.leave()
    const file = join(folder, 'logbook', 'windfall.sqlite')
    const ruined = await readFile(file)
    ruined.fill('?', 0, 100)
    await writeFile(file, ruined)
    const at = await openClean(folder)
    try {
      await check(sentence, options, async (page) => {
        await page.getByRole('button', { name: /^Something is wrong with the logbook/ }).waitFor()
        await sound(page)
        await shoot(page, `safe-damaged-first-${device}`)
        await page.getByRole('button', { name: /^Something is wrong with the logbook/ }).click()
        await page.getByText('The logbook cannot be opened.').waitFor()
        await sound(page)
        await shoot(page, `safe-damaged-${device}`)
        assert.ok((await readFile(file)).equals(ruined))
        await page.getByRole('button', { name: /^Use the backup of \d+ \w+ 20\d\d at \d\d:\d\d: 2 flights on 2 days$/ }).click()
        await page.locator('[data-restored]').waitFor()
        await page.getByText('2 flights on 2 days, 0 photos.').waitFor()
        await sound(page)
        await shoot(page, `safe-restored-${device}`)
        assert.deepEqual((await rows(at)).map((it) => it.name), ['Linnet-1', 'Linnet-2'])
        const [kept] = (await readdir(join(folder, 'logbook', 'aside'))).filter((it) => it.endsWith('.sqlite'))
        assert.ok((await readFile(join(folder, 'logbook', 'aside', kept))).equals(ruined))
        await page.reload()
        await page.locator('[data-calm="safe"]').waitFor()
        assert.equal(await page.getByRole('button', { name: /^Something is wrong with the logbook/ }).count(), 0)
      }, { at, mayLog: true })
    } finally {
      at.close()
    }
  }

  const looks = 'the screen that keeps the logbook safe has room'
  if (!skipped(looks)) {
    const at = await openClean()
    try {
      for (const day of [1, 2]) await tell(at, day, 'Linnet')
      await askAt(at, 'back_up', {})
      for (const [language, more] of [['stretched', SENSING], ['es', SENSING], ['en', { ...SENSING, colorScheme: 'dark' }], ['en', DESKTOP], ['en', { ...DESKTOP, colorScheme: 'dark' }]]) {
        const how = `${language}, ${more.viewport.width}, ${more.colorScheme ?? 'light'}`
        await check(`${looks}: ${how}`, more, async (page) => {
          await page.addInitScript((kept) => location.protocol === 'about:' || localStorage.setItem('windfall.settings', kept), JSON.stringify({ language }))
          await page.reload()
          await shoot(page, `safe-first-${how}`)
          await page.locator('[data-calm="safe"]').click()
          await page.locator('[data-holds]').waitFor()
          await page.locator('.asks button').click()
          await sound(page)
          await shoot(page, `safe-look-${how}`)
          await page.locator('.paper').evaluate((it) => it.scrollTo({ top: it.scrollHeight }))
          await shoot(page, `safe-look-end-${how}`)
        }, { at })
      }
    } finally {
      at.close()
    }
  }
}
