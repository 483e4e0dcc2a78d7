// The walk to it, and the find.
import assert from 'node:assert/strict'
import { answered, counted, SENSING, withCompass } from './site.mjs'

const choose = async (page, flight) => {
  await page.locator(`[data-flight="${flight}"]`).click()
  await answered(page)
}

/** Stands somewhere else. Nobody walks so fast, so the receiver must insist. */
const stand = async (context, latitude, longitude) => {
  for (let i = 0; i < 7; i++) {
    await context.setGeolocation({ latitude: latitude + i * 1e-7, longitude, accuracy: 5 })
    await new Promise((done) => setTimeout(done, 120))
  }
}

export async function recoveries({ check, site, sound }) {
  if (!site.isReal) return

  await check('landed in view and picked up whole: two taps, and how far from the pad', SENSING, async (page) => {
    await choose(page, 'dunnock-streamer')
    const taps = counted(page)
    await taps.tap(page.getByRole('button', { name: 'Found it' }))
    await sound(page)
    await page.getByText('Noted where you stand').waitFor()
    await taps.tap(page.getByRole('button', { name: 'All of it' }))
    const far = await page.locator('[data-found]').innerText()
    assert.equal(taps.count, 2)
    // The phone stands 0.0008 degrees east of the pad at 47.5312 N: 60.2 m on the ellipsoid.
    assert.match(far, /\b(5[89]|6[0-2])\s*m/)
    assert.match(far, /0(89|90|91)° true/)
    await sound(page)
    await page.getByRole('radio', { name: 'nothing opened' }).tap()
    await page.getByText('may still be live').waitFor()
    await page.getByRole('radio', { name: 'tube bent' }).tap()
    await sound(page)
    await page.getByRole('button', { name: 'Done' }).tap()
    await answered(page)
    assert.equal(await page.getByRole('button', { name: 'Found it' }).count(), 0)
    console.log(`        taps: ${taps.count}`)
  })

  await check('only part of it: what is missing has its own search at once', SENSING, async (page) => {
    await choose(page, 'redpoll-letter-only')
    const before = await page.locator('.place').innerText()
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'Only part of it' }).tap()
    await sound(page)
    await page.getByRole('button', { name: 'nose, with the chute' }).tap()
    await page.getByText('Where the rest may be').waitFor()
    await page.getByRole('button', { name: 'The whole answer' }).tap()
    await answered(page)
    await page.getByRole('radio', { name: 'nose, with the chute' }).and(page.locator(':checked')).waitFor()
    assert.notEqual(await page.locator('.place').innerText(), before)
    await sound(page)
  })

  await check('only part of a rocket that was declared in parts asks which is in the hand', SENSING, async (page) => {
    await choose(page, 'godwit-streamlined')
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'Only part of it' }).tap()
    await page.getByText(/Which part is in your hand|What is missing/).waitFor()
    await sound(page)
  })

  await check('the walk has one arrow, and STOP in its place by a road and by wires', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(0, -90) // flat, its top edge to the north of the sensor
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('svg.arrow').waitFor()
    assert.ok(Number(await page.locator('[data-walk-distance]').getAttribute('data-walk-distance')) > 20)
    await page.getByText('by the compass').waitFor()
    await sound(page)
    // 15 m west of Oddering Lane, as the sample field has it.
    await stand(context, 47.53, 17.2876)
    await page.getByText('STOP').waitFor()
    assert.match(await page.locator('.stop').innerText(), /Oddering Lane.*\d+\s*m/)
    assert.equal(await page.locator('svg.arrow').count(), 0)
    await sound(page)
    // Below the 20 kV line.
    await stand(context, 47.5301, 17.28855)
    await page.getByText('Call the owner of the line').waitFor()
    assert.equal(await page.getByRole('button', { name: 'Found it' }).count(), 0)
    await sound(page)
    await stand(context, 47.5312, 17.2847)
    await page.locator('svg.arrow').waitFor()
  })

  await check('at the place there is no arrow left, and "not here" is noted', SENSING, async (page, context) => {
    await choose(page, 'siskin-track')
    const first = page.waitForRequest('**/api/walk_to')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    const { to } = (await first).postDataJSON()
    await stand(context, to.lat, to.lon)
    await page.getByText(/You are there|STOP/).first().waitFor()
    await sound(page)
    const noted = page.waitForRequest('**/api/add_evidence')
    await page.getByRole('button', { name: 'Not here' }).tap()
    const { evidence } = (await noted).postDataJSON()
    assert.equal(evidence[0].kind, 'sweep')
    assert.ok(evidence[0].path.length >= 2)
  })

  await check('a phone without a compass says to walk ten steps', SENSING, async (page) => {
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('Walk ten steps').first().waitFor()
    assert.equal(await page.locator('svg.arrow').count(), 0)
    await sound(page)
  })

  await check('a phone that may not know where it is says so on the walk', { ...SENSING, permissions: [], geolocation: undefined }, async (page) => {
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('does not let the program know').waitFor()
    await sound(page)
  })
}
