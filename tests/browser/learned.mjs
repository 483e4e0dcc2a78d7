// What flights taught, what a phone's compass is off by, and parts that are given up. Each case begins with a clean install.
import assert from 'node:assert/strict'
import { ask, cleanly, counted, SENSING, shoot, withCompass } from './site.mjs'

const PAD = { lat: SENSING.geolocation.latitude, lon: SENSING.geolocation.longitude }
const FLIGHTS = 40

const button = (page, name) => page.getByRole('button', { name, exact: true })
const open = (page, where) => page.locator(`[data-calm="${where}"]`).click()

/** A flight whose rocket came down nearer than its size and its height suggest, in a wind that was measured. */
const flown = (number) => ({
  format: 'windfall-flight/1', id: `siskin-${number}`, title: `Siskin ${number}`, pad: PAD,
  wind: [{ height_m: 2, speed_mps: 3, from_deg: 240, averaged_s: 60, method: 'meter' }],
  rocket: { name: 'Siskin', stages: [{ motor: 'C6-5', dry_mass_g: 60, diameter_mm: 25, recovery: { kind: 'parachute', diameter_mm: 300 } }] },
  launch: { at: `2026-${String(4 + Math.floor(number / 28)).padStart(2, '0')}-${String((number % 28) + 1).padStart(2, '0')}T10:00:00+02:00` },
  evidence: [
    { kind: 'altimeter', apogee_m: 320 },
    { kind: 'find', part: 'rocket', at: { lat: PAD.lat + 0.0006, lon: PAD.lon + 0.0014 } },
  ],
})

export async function learnedOnes({ check, site, sound, wanted }) {
  if (!site.isReal) return

  const clean = cleanly(check, wanted)

  await clean('a belief is a sentence with its flights; setting one aside, using it again and learning anew are seen in it', SENSING, async (page) => {
    for (let number = 0; number < FLIGHTS; number++) await ask(page, 'tell_flight', { flight: flown(number) })
    await open(page, 'past')
    const beliefs = () => page.locator('h2:has-text("Learned from earlier flights") + ul li').allInnerTexts()
    const settled = async (count) => {
      await page.getByText(new RegExp(`from ${count}\\sflights`)).first().waitFor({ timeout: 60_000 })
      await page.locator('progress').waitFor({ state: 'detached', timeout: 60_000 })
      return beliefs()
    }
    const first = await settled(FLIGHTS)
    const faster = first.find((it) => /^Siskin comes down about \d+\s%\sfaster than its size suggests, from 40\sflights/.test(it))
    assert.ok(faster, first.join('\n'))
    await sound(page)

    const story = (number) => page.locator(`[data-past="siskin-${number}"]`).click()
    await story(FLIGHTS - 1)
    await button(page, 'Set this flight aside').click()
    await page.getByText('Set aside: kept, but nothing is learned from it.').waitFor()
    await button(page, 'Back').click()
    const without = await settled(FLIGHTS - 1)
    assert.ok(!without.includes(faster), without.join('\n'))
    await story(FLIGHTS - 1)
    await button(page, 'Use this flight again').click()
    await button(page, 'Set this flight aside').waitFor()
    await button(page, 'Back').click()
    assert.deepEqual(await settled(FLIGHTS), first)

    await page.locator('[data-learned="anew"]').click()
    const bar = page.locator('progress')
    await bar.waitFor({ timeout: 60_000 })
    assert.equal(await bar.getAttribute('max'), String(FLIGHTS))
    assert.match(await bar.getAttribute('aria-label'), /^Reading flights: \d+ of 40$/)
    await bar.waitFor({ state: 'detached', timeout: 120_000 })
    assert.deepEqual(await settled(FLIGHTS), first)
  })

  await clean('a phone is pointed at one thing; the check is listed, set aside and used again', SENSING, async (page, context, at) => {
    const point = await withCompass(page, context, at.address)
    // A pad 445 m north of where the phone is.
    const field = { field: { name: 'Sedge Meadow', hazards: [] }, pad: { name: 'far pad', lat: PAD.lat + 0.004, lon: PAD.lon, accuracy_m: 4 } }
    const kept = await ask(page, 'keep_site', field)
    await ask(page, 'keep_day', { plan: { load: [], site: kept.id } })
    await point(4, 2)
    await open(page, 'phone')
    await page.getByText(/You stand within/).waitFor()
    await sound(page)
    await button(page, 'far pad').click()
    const taps = counted(page)
    const hold = page.getByRole('button', { name: /Point at it/ })
    await hold.waitFor()
    await taps.hold(hold, 3)
    // 4 degrees from magnetic north are about 10 from true north there (WMM2025: some 5.7 degrees east).
    const off = await page.locator('[data-off]').innerText()
    assert.match(off, /^(9|10)° too far right\. Noted/)
    const checks = () => ask(page, 'heading_checks', {})
    const [said] = await checks()
    assert.match(said.phone, /^phone [0-9A-F]{4}$/)
    await page.getByRole('heading', { name: `This phone: ${said.phone}` }).waitFor()
    // So far off is no compass: the wrong thing was pointed at, and nothing is kept of it.
    await point(160, 2)
    await taps.hold(hold, 3)
    const doubted = page.locator('[data-off="doubted"]')
    await doubted.waitFor()
    assert.match(await doubted.innerText(), /^16[56]° too far right\. No compass is off that far, so nothing is noted/)
    await sound(page)
    assert.deepEqual(await checks(), [said])
    // Anything else on the map will do as well.
    await point(90, 2)
    await page.locator('.sheet').click({ position: { x: 330, y: 120 } })
    await page.locator('[data-off]').waitFor({ state: 'detached' })
    await sound(page)
    const row = page.locator(`[data-check="${said.checks[0].id}"]`)
    await row.getByRole('button', { name: 'Set aside' }).click()
    await row.getByText('Set aside: kept, but not used.').waitFor()
    assert.ok((await checks())[0].checks[0].set_aside_by)
    await row.getByRole('button', { name: 'Use it again' }).click()
    await row.getByRole('button', { name: 'Set aside' }).waitFor()
    assert.deepEqual(await checks(), [said])
  })

  await clean('without a landmark a phone is pointed along the own shadow, never at the sun, and not when that is too low', SENSING, async (page, context, at) => {
    const point = await withCompass(page, context, at.address)
    // By the low-precision formulas of the Astronomical Almanac (from memory) the sun stands at 266.3 degrees, 34.8 high;
    // 92.5 degrees from magnetic north are about 98.3 from true north there (WMM2025), 12 more than the shadow's 86.3.
    await page.clock.setFixedTime('2026-06-06T15:00:00Z')
    await point(92.5, 2)
    await open(page, 'phone')
    await page.getByText('Never look or point at the sun').waitFor()
    await button(page, 'Use my shadow').click()
    const taps = counted(page)
    const hold = page.getByRole('button', { name: /Point along your shadow/ })
    await hold.waitFor()
    // Whole in sight without scrolling.
    await page.waitForFunction(() => document.querySelector('.hold').getBoundingClientRect().bottom <= innerHeight)
    await sound(page)
    await taps.hold(hold, 3)
    assert.match(await page.locator('[data-off="noted"]').innerText(), /^1[123]° too far right\. Noted/)
    const [kept] = await ask(page, 'heading_checks', {})
    assert.equal(kept.checks.length, 1)
    // At the sun itself it is not believed, however often.
    await point(260, 2)
    for (let times = 0; times < 2; times++) {
      await taps.hold(hold, 3)
      await page.getByText(/that is nearly where the sun stands/i).waitFor()
    }
    await sound(page)
    await shoot(page, 'compass-at-the-sun')
    await page.clock.setFixedTime('2026-06-06T20:00:00Z')
    await taps.hold(hold, 3)
    await page.getByText(/the sun is less than 5 degrees high/i).waitFor()
    await sound(page)
    assert.deepEqual(await ask(page, 'heading_checks', {}), [kept])
  }, { mayLog: true }) // Chromium logs that the core refused where the sun stands

  await clean('a part is given up with why, and looked for again', SENSING, async (page) => {
    const flight = { ...flown(0), evidence: [{ kind: 'sighting', moment: 'lost', t_s: 30, bearing_deg: 70, elevation_deg: 12 }] }
    await ask(page, 'answer_flight', { flight })
    const searched = async () => (await ask(page, 'list_log', {}))[0].searched
    assert.deepEqual(await searched(), ['rocket'])
    await page.reload()
    await open(page, 'past')
    await page.locator('[data-past="siskin-0"]').click()
    const search = page.locator('[data-search="rocket"]')
    await search.getByText('is still looked for').waitFor()
    await button(page, 'Give it up').click()
    await page.getByLabel('Why?').fill('Too deep in the reeds')
    await sound(page)
    await button(page, 'Give it up').click()
    await search.getByText('was given up: Too deep in the reeds').waitFor()
    assert.deepEqual(await searched(), [])
    await sound(page)
    await button(page, 'Look for it again').click()
    await search.getByText('is still looked for').waitFor()
    assert.deepEqual(await searched(), ['rocket'])
  })
}
