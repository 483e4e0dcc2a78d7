// One part picked up, the rest moves before the eyes; and later how far off we were.
import assert from 'node:assert/strict'
import { readFile } from 'node:fs/promises'
import { answered, ask, counted, DESKTOP, lostOne, PHONE, SENSING, shoot, tellAnew } from './site.mjs'

const SHARE = '.sheet canvas[data-share]'

/** Every share of the move that is painted, in order, from the first on; not those of the picture that waits for it. */
const watch = (page) =>
  page.addInitScript(() => {
    window.shares = []
    new MutationObserver((all) => {
      for (const { target } of all) if (document.querySelector('[data-rest]')) window.shares.push(Number(target.dataset.share))
    }).observe(document, { subtree: true, attributeFilter: ['data-share'] })
  })

/** The rest is worked out, and its picture painted. */
const moving = async (page) => {
  await page.locator('[data-rest]').waitFor()
  await page.locator(SHARE).waitFor()
}

/** Lower half of a rocket in the hand; its nose missing. */
const onlyPart = async (page, tap = (it) => it.click()) => {
  await page.locator(`[data-flight="${await lostOne(page)}"]`).click()
  await answered(page)
  await tap(page.getByRole('button', { name: 'Found it' }))
  await page.getByText('Noted where you stand').waitFor()
  await tap(page.getByRole('button', { name: 'Only part of it' }))
  await tap(page.getByRole('checkbox', { name: 'nose with the chute' }))
  await tap(page.getByRole('button', { name: 'Look for it' }))
  await moving(page)
}

/** A rocket declared in two halves, of which nobody saw that they came apart; the heavy one lies where the sample day has it. */
const comeApart = async (page, context) => {
  const id = await tellAnew(page, 'fieldfare-came-apart', (flight) => ({ ...flight, evidence: flight.evidence.filter((it) => it.kind !== 'saw') }))
  await context.setGeolocation({ latitude: 47.531, longitude: 17.28382, accuracy: 5 })
  await page.locator(`[data-flight="${id}"]`).click()
  await answered(page)
  await page.getByRole('button', { name: 'Found it' }).click()
  await page.getByText('Noted where you stand').waitFor()
  await page.getByRole('button', { name: 'Only this: lower' }).click()
  await moving(page)
}

/** Which chunks a PNG has (W3C, PNG, 5.3): four bytes of length, four of name, the data, four of check. */
function chunksOf(bytes) {
  assert.equal(bytes.subarray(1, 4).toString('latin1'), 'PNG')
  const names = []
  for (let at = 8; at < bytes.length; at += 12 + bytes.readUInt32BE(at)) names.push(bytes.subarray(at + 4, at + 8).toString('latin1'))
  return names
}

async function saved(page) {
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Share the picture' }).click()])
  assert.match(download.suggestedFilename(), /\.png$/)
  return readFile(await download.path())
}

export async function rests({ check, site, sound }) {
  if (!site.isReal) return

  for (const [device, size] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
    for (const colorScheme of ['light', 'dark']) {
      await check(`only part of it: the area for the rest slides across the field, on a ${device} in ${colorScheme}`, { ...SENSING, ...size, isMobile: size === PHONE, colorScheme }, async (page, context) => {
        await watch(page)
        await page.reload()
        await comeApart(page, context)
        await page.locator('canvas[data-share="1.00"]').waitFor()
        const shares = await page.evaluate(() => window.shares)
        assert.equal(shares[0], 0)
        assert.ok(shares.length > 5, `${shares.length} frames`)
        assert.ok(shares.every((it, i) => i === 0 || it >= shares[i - 1]), shares.join(' '))
        // One sentence why, as the core gives it.
        const why = await page.locator('main p[data-why]').innerText()
        assert.match(why, /^Most likely .*\.$/)
        assert.doesNotMatch(why, /This rests on/)
        assert.match(await page.locator('[data-rest]').innerText(), /upper: \d+\s*m from the pad, \d{3}° magnetic/)
        await sound(page)
      })
    }
  }

  for (const [device, size] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
    await check(`while the rest is worked out, what is known of it stands there, on a ${device}`, { ...SENSING, ...size, isMobile: size === PHONE }, async (page, context) => {
      let goOn
      const waited = new Promise((done) => (goOn = done))
      await page.locator(`[data-flight="${await lostOne(page)}"]`).click()
      await answered(page)
      await page.getByRole('button', { name: 'Found it' }).click()
      await page.getByText('Noted where you stand').waitFor()
      await page.getByRole('button', { name: 'Only part of it' }).click()
      await page.getByRole('checkbox', { name: 'nose with the chute' }).check()
      await page.route('**/api/locate_flight', async (route) => {
        await waited
        await route.continue()
      })
      await page.getByRole('button', { name: 'Look for it' }).click()
      await page.getByText('Still missing: nose with the chute. Where it may be is being worked out').waitFor()
      await page.locator('canvas[data-share="0.00"]').waitFor()
      assert.match(await page.locator('main').innerText(), /\d\s*m from the pad, \d{3}° magnetic/)
      await sound(page)
      await shoot(page, `rest-waits-${device}`)
      goOn()
      await moving(page)
      await page.getByRole('button', { name: 'Walk there' }).waitFor()
      // In sight without scrolling, and it hides nothing for good.
      const box = await page.getByRole('button', { name: 'Walk there' }).boundingBox()
      assert.ok(box.y + box.height <= size.viewport.height + 1, JSON.stringify(box))
      const last = page.getByRole('button', { name: 'State, and what it did' })
      await last.scrollIntoViewIfNeeded()
      await last.click({ trial: true })
      await shoot(page, `rest-${device}`)
    })
  }

  await check('a find in a wet hand, and the rest of it, are locked: no stray tap notes anything or leads away', SENSING, async (page) => {
    const lock = page.getByRole('button', { name: 'Locked' })
    const wet = async (name) => {
      await page.getByRole('button', { name: 'Wet hands: lock' }).tap()
      await lock.waitFor()
      await sound(page)
      await shoot(page, name)
      for (let y = 40; y < 840; y += 60) await page.touchscreen.tap(200, y)
      await page.goBack()
      assert.ok(await lock.isVisible())
      await counted(page).hold(lock, 1.4)
      await lock.waitFor({ state: 'detached' })
    }
    const id = await lostOne(page)
    await page.locator(`[data-flight="${id}"]`).tap()
    await answered(page)
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await wet('find-locked')
    await page.getByRole('button', { name: 'Only part of it' }).waitFor()
    const { evidence } = await ask(page, 'show_flight', { id })
    assert.ok(evidence.every((it) => it.kind !== 'find'))
    await page.getByRole('button', { name: 'Only part of it' }).tap()
    await page.getByRole('checkbox', { name: 'nose with the chute' }).tap()
    await page.getByRole('button', { name: 'Look for it' }).tap()
    await moving(page)
    await wet('rest-locked')
    await page.getByRole('heading', { name: 'Where the rest may be' }).waitFor()
  })

  await check('with less motion the move is two frames', { ...SENSING, reducedMotion: 'reduce' }, async (page) => {
    await watch(page)
    await page.reload()
    await onlyPart(page)
    await page.locator('canvas[data-share="1.00"]').waitFor()
    await page.waitForTimeout(500)
    assert.deepEqual(await page.evaluate(() => window.shares), [0, 1])
    await page.getByRole('button', { name: 'Play the flight again' }).tap()
    await page.locator('canvas[data-share="0.00"]').waitFor()
    await page.locator('canvas[data-share="1.00"]').waitFor()
  })

  await check('the flight that comes apart: from one half in the hand to both found, and how far off we were', { ...SENSING, acceptDownloads: true }, async (page, context) => {
    const taps = counted(page)
    await onlyPart(page, (it) => taps.tap(it))
    assert.equal(taps.count, 4)
    const first = await saved(page)
    assert.deepEqual([...new Set(chunksOf(first))].filter((it) => !['IHDR', 'IDAT', 'IEND', 'sRGB', 'gAMA', 'pHYs'].includes(it)), [])
    // Straight on to the rest.
    const asked = page.waitForRequest('**/api/walk_to')
    await taps.tap(page.getByRole('button', { name: 'Walk there' }))
    const { to } = (await asked).postDataJSON()
    await page.getByText('To: nose with the chute').waitFor()
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    await answered(page)
    const aim = await page.locator('.place').innerText()
    const [lat, lon] = aim.split(',').map(Number)
    assert.ok(Math.abs(lat - to.lat) < 0.01)
    // It lies 14 m north of where we said: a degree of this meridian is 111 176 m (WGS 84).
    for (let i = 0; i < 7; i++) {
      await context.setGeolocation({ latitude: lat + 14 / 111_176 + i * 1e-8, longitude: lon, accuracy: 4 })
      await page.waitForTimeout(120)
    }
    await taps.tap(page.getByRole('button', { name: 'Found it' }))
    await page.getByText('Noted where you stand').waitFor()
    await taps.tap(page.getByRole('button', { name: 'This one: nose with the chute' }))
    await page.locator('[data-off]').waitFor()
    assert.match(await page.locator('[data-off]').innerText(), /It lay 1[3-5]\s*m from where we said/)
    await page.locator(SHARE).waitFor()
    await sound(page)
    const second = await saved(page)
    assert.ok(second.length > 10_000)
    assert.ok(!second.includes(String(lat).slice(0, 6)))
    await page.getByRole('button', { name: 'Done' }).tap()
    await answered(page)
    await page.getByText('Found, all of it').waitFor()
    console.log(`        taps from the find to both halves found: ${taps.count}`)
  })

  await check('two pieces are missing of a rocket that nobody declared in parts: both are told at once, and both are looked for', SENSING, async (page) => {
    const id = await lostOne(page)
    await page.locator(`[data-flight="${id}"]`).tap()
    await answered(page)
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'Only part of it' }).tap()
    assert.ok(await page.getByRole('button', { name: 'Tick what is missing' }).isDisabled())
    for (const name of ['fins and motor', 'altimeter']) await page.getByRole('checkbox', { name }).tap()
    await sound(page)
    await shoot(page, 'find-missing')
    await page.getByRole('button', { name: 'Look for it' }).tap()
    await moving(page)
    await page.getByRole('button', { name: 'The whole answer' }).tap()
    await answered(page)
    for (const name of ['fins and motor', 'altimeter', 'the part in hand']) await page.getByRole('group', { name: 'Part' }).getByRole('radio', { name }).waitFor()
    const flight = await ask(page, 'show_flight', { id })
    assert.deepEqual(flight.rocket.stages.at(-1).splits_into.map((it) => it.name).toSorted(), ['altimeter', 'fin can', 'in hand'])
  })

  await check('the rest in Spanish, on a phone', { ...SENSING, locale: 'es-ES' }, async (page) => {
    await page.locator(`[data-flight="${await lostOne(page)}"]`).tap()
    await answered(page)
    await page.getByRole('button', { name: 'Lo encontré' }).tap()
    await page.getByRole('button', { name: 'Solo una parte' }).tap()
    await page.getByRole('checkbox', { name: 'cono con el paracaídas' }).tap()
    await page.getByRole('button', { name: 'Buscarlo' }).tap()
    await page.locator('canvas[data-share="1.00"]').waitFor()
    await sound(page)
  })
}
