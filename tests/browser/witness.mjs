// What somebody else saw.
import assert from 'node:assert/strict'
import { answered, counted, DESKTOP, PHONE, SENSING, tellAnew, withCompass } from './site.mjs'

const open = async (page, change) => {
  const id = await tellAnew(page, 'heron-lost', change)
  await page.locator(`[data-flight="${id}"]`).click()
  await answered(page)
  await page.getByRole('button', { name: 'Someone else saw it' }).click()
  await page.getByText('Where do they point from?').waitFor()
}
const added = async (page, act) => {
  const asked = page.waitForRequest('**/api/add_evidence')
  await act()
  const { evidence } = (await asked).postDataJSON()
  await answered(page)
  return evidence[0]
}

export async function witnesses({ check, site, sound }) {
  if (!site.isReal) return

  await check('someone else saw it: aimed along their arm, from where we both stand', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(70, 25)
    await open(page)
    await sound(page)
    await counted(page).hold(page.getByRole('button', { name: 'aim along their arm' }), 2.4)
    await page.getByText('070° magnetic').waitFor()
    const piece = await added(page, () => page.getByRole('button', { name: 'Add what they saw' }).tap())
    assert.equal(piece.kind, 'sighting')
    assert.equal(piece.observer, 'somebody else')
    assert.ok(Math.abs(piece.bearing_deg - 70) < 1 && Math.abs(piece.elevation_deg - 25) < 1, JSON.stringify(piece))
    // The phone stands 60 m east of the pad.
    assert.ok(Math.abs(piece.from.lon - 17.2854) < 1e-5)
  })

  for (const [device, size] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
    for (const colorScheme of ['light', 'dark']) {
      await check(`someone else saw it from another place, on a ${device} in ${colorScheme}`, { ...SENSING, ...size, isMobile: size === PHONE, colorScheme }, async (page) => {
        await open(page)
        await page.getByRole('radio', { name: 'from another place' }).check({ force: true })
        await page.getByText('Tap where they stood').first().waitFor()
        const sheet = page.locator('.sheet')
        await page.waitForTimeout(700) // the map draws on its own frames
        const tap = async (dx, dy) => {
          const box = await sheet.boundingBox()
          await page.mouse.click(box.x + box.width / 2 + dx, box.y + box.height / 2 + dy)
        }
        await tap(-60, 40)
        await page.getByText('They stood somewhere else').waitFor()
        await sound(page)
        await page.getByRole('button', { name: 'in line with something' }).click()
        await page.waitForTimeout(700)
        await tap(50, -60)
        await page.getByText('In line with what you tapped').waitFor()
        await page.getByRole('radio', { name: 'seen to land' }).check({ force: true })
        await sound(page)
        const piece = await added(page, () => page.getByRole('button', { name: 'Add what they saw' }).click())
        assert.equal(piece.moment, 'landed')
        assert.ok(piece.in_line_with.lon > piece.from.lon && piece.in_line_with.lat > piece.from.lat, JSON.stringify(piece))
      })
    }
  }

  await check('somebody counted the seconds, and the flyer finds a mark on the skyline later', SENSING, async (page) => {
    const seconds = async () => {
      await page.getByRole('button', { name: /How long after lift-off/ }).tap()
      await page.getByRole('textbox', { name: 'Seconds after lift-off' }).fill('38')
    }
    // What was seen was seen by the flyer.
    await open(page, (flight) => ({ ...flight, evidence: flight.evidence.map((it) => ({ ...it, observer: undefined })) }))
    await page.getByRole('radio', { name: 'seen to land' }).check({ force: true })
    await seconds()
    await page.getByRole('radio', { name: 'read off a film' }).check({ force: true })
    await sound(page)
    const counted = await added(page, () => page.getByRole('button', { name: 'Add what they saw' }).tap())
    assert.deepEqual([counted.moment, counted.t_s, counted.timed_by], ['landed', 38, 'video'])
    await page.getByRole('button', { name: 'Someone else saw it' }).click()
    await page.getByRole('radio', { name: 'I, from where I stood then' }).check({ force: true })
    await page.getByRole('button', { name: 'in line with something' }).tap()
    await page.waitForTimeout(700)
    const box = await page.locator('.sheet').boundingBox()
    await page.touchscreen.tap(box.x + box.width / 2 + 40, box.y + box.height / 2 - 60)
    await page.getByRole('radio', { name: 'on this side of it' }).check({ force: true })
    await sound(page)
    const mine = await added(page, () => page.getByRole('button', { name: 'Add what they saw' }).tap())
    assert.deepEqual([mine.beyond, mine.observer], [false, undefined])
  })

  await check('someone else saw it, in Spanish and without a compass', { ...SENSING, locale: 'es-ES' }, async (page) => {
    const id = await tellAnew(page, 'heron-lost')
    await page.locator(`[data-flight="${id}"]`).tap()
    await answered(page)
    await page.getByRole('button', { name: 'Otra persona lo vio' }).tap()
    await counted(page).hold(page.getByRole('button', { name: 'a lo largo de su brazo' }), 2.4)
    await page.getByText('Mirando hacia donde va el viento').waitFor()
    await sound(page)
    await page.getByRole('radio', { name: 'a la derecha', exact: true }).tap()
    const piece = await added(page, () => page.getByRole('button', { name: 'Añadir lo que vio' }).tap())
    assert.equal(piece.downwind_deg, 30)
  })
}
