// The first flight from a clean install, counted: in English, in Spanish, in greys and at twice the text size; and one whole
// day lived in one go.
import assert from 'node:assert/strict'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { answered, ask, cleanly, counted, DESKTOP, openClean, SENSING, shoot, twiceTheText, withCompass } from './site.mjs'

const PAD = { lat: SENSING.geolocation.latitude, lon: SENSING.geolocation.longitude }

const ENGLISH = {
  makeField: 'Make a field here', stand: /You stand within/, fieldName: 'What do you call it?', keep: 'Keep', makeRocket: 'Make a rocket',
  name: 'Name', motor: 'Motor', read: 'Understood: C6-5', drop: 'Drop some grass', goes: 'It goes towards', east: 'east', moves: 'It moves',
  leaves: 'leaves, felt on the face', wind: 'That is the wind', look: 'Look east, where the wind goes', first: 'The first thing in that direction',
  road: 'a road', howFar: 'How far off?', pitch: 'a football pitch', mark: 'Mark it', fly: 'Fly it', clear: 'People and sky are clear.',
  all: 'All done: to the pad', touch: 'Touch at lift-off', landed: 'I saw it land', where: 'Where may it be?',
}
const SPANISH = {
  makeField: 'Crear un campo aquí', stand: /Está aquí, con un margen de/, fieldName: '¿Cómo lo llama?', keep: 'Guardar', makeRocket: 'Crear un cohete',
  name: 'Nombre', motor: 'Motor del cohete', read: 'Entendido: C6-5', drop: 'Suelte un poco de hierba', goes: 'Va hacia', east: 'este', moves: 'Mueve',
  leaves: 'hojas, se nota en la cara', wind: 'Ese es el viento', look: 'Mire hacia el este, adonde va el viento', first: 'Lo primero en esa dirección',
  road: 'una carretera', howFar: '¿A qué distancia?', pitch: 'un campo de fútbol', mark: 'Marcarlo', fly: 'Volarlo', clear: 'Gente y cielo despejados.',
  all: 'Todo listo: a la plataforma', touch: 'Toque al despegar', landed: 'Lo vi aterrizar', where: '¿Dónde puede estar?',
}

const button = (page, name) => page.getByRole('button', { name, exact: true })
const radio = (page, group, name) => page.getByRole('group', { name: group, exact: true }).getByRole('radio', { name, exact: true })

/** From nothing to the first answer, as a newcomer taps. Returns the taps. */
async function firstFlight(page, words, seen = async () => undefined) {
  const taps = counted(page)
  const tap = (locator) => taps.tap(locator)
  const write = async (label, text) => {
    await tap(page.getByLabel(label, { exact: true }))
    await page.keyboard.type(text)
  }
  await tap(page.locator('[data-calm="today"]'))
  await tap(button(page, words.makeField))
  await page.getByText(words.stand).waitFor()
  await write(words.fieldName, 'Sedge Meadow')
  await tap(button(page, words.keep))
  await tap(button(page, words.makeRocket))
  await write(words.name, 'Linnet')
  await write(words.motor, 'c6 5')
  await page.getByText(words.read).waitFor()
  await seen('rocket')
  await tap(button(page, words.keep))
  await page.getByText(words.drop).waitFor()
  await tap(radio(page, words.goes, words.east))
  await tap(radio(page, words.moves, words.leaves))
  await seen('wind')
  await tap(button(page, words.wind))
  await page.getByRole('heading', { name: words.look }).waitFor()
  await tap(radio(page, words.first, words.road))
  await tap(radio(page, words.howFar, words.pitch))
  await tap(button(page, words.mark))
  await page.locator('[data-look-toward]').waitFor({ state: 'detached' })
  await seen('today')
  await tap(button(page, words.fly))
  await page.getByText(words.clear).waitFor()
  await seen('check')
  await tap(button(page, words.all))
  await page.getByText(words.touch).waitFor()
  await page.getByRole('heading', { name: 'Linnet' }).waitFor()
  await seen('ready')
  await page.waitForTimeout(1500)
  await taps.hold(page.locator('button.hold'), 1.5)
  await seen('asked')
  await tap(page.getByRole('button', { name: words.landed }))
  await seen('pointing')
  await tap(page.getByRole('button', { name: words.where }))
  await answered(page)
  await seen('answer')
  assert.ok(taps.count <= 25, `${taps.count} taps`)
  const [{ field }] = await ask(page, 'sites', {})
  assert.deepEqual(field.hazards.map((it) => it.kind), ['road'], 'the thing that comes first downwind is marked')
  return taps
}

/** Mean red, green and blue of what stands at a place of the screen, 0 to 255, as the screen shows it. */
async function colourOf(page, locator) {
  const png = (await locator.screenshot()).toString('base64')
  return page.evaluate(async (data) => {
    const image = await createImageBitmap(new Blob([Uint8Array.from(atob(data), (it) => it.charCodeAt(0))]))
    const canvas = new OffscreenCanvas(image.width, image.height)
    const pen = canvas.getContext('2d')
    pen.drawImage(image, 0, 0)
    const bytes = pen.getImageData(0, 0, image.width, image.height).data
    // The commonest colour is the ground, whatever is written on it.
    const counts = new Map()
    let tinted = 0
    for (let i = 0; i < bytes.length; i += 4) {
      const [r, g, b] = bytes.slice(i, i + 3)
      tinted = Math.max(tinted, Math.max(r, g, b) - Math.min(r, g, b))
      counts.set((r << 16) | (g << 8) | b, (counts.get((r << 16) | (g << 8) | b) ?? 0) + 1)
    }
    const [most] = [...counts].sort((x, y) => y[1] - x[1])[0]
    return { rgb: [most >> 16, (most >> 8) & 255, most & 255], tinted }
  }, png)
}

/** Contrast of two colours: W3C, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio */
function contrast(a, b) {
  const luminance = (rgb) => {
    const [r, g, blue] = rgb.map((byte) => (byte / 255 <= 0.04045 ? byte / 255 / 12.92 : ((byte / 255 + 0.055) / 1.055) ** 2.4))
    return 0.2126 * r + 0.7152 * g + 0.0722 * blue
  }
  const [light, dark] = [luminance(a), luminance(b)].sort((x, y) => y - x)
  return (light + 0.05) / (dark + 0.05)
}

export async function day({ check, site, sound, wanted }) {
  if (!site.isReal) return

  const clean = cleanly(check, wanted)

  await clean('the counted first flight in Spanish, the thing downwind marked', { ...SENSING, locale: 'es-ES' }, async (page, context, at) => {
    await (await withCompass(page, context, at.address))(80, 40)
    const taps = await firstFlight(page, SPANISH, async (name) => {
      await shoot(page, `first-es-${name}`)
      await sound(page)
    })
    console.log(`        taps of field with a road, rocket and first flight in Spanish: ${taps.count}`)
  })

  await clean('the counted first flight at twice the text size', SENSING, async (page, context, at) => {
    await twiceTheText(page)
    await (await withCompass(page, context, at.address))(80, 40)
    const taps = await firstFlight(page, ENGLISH, (name) => shoot(page, `first-200-${name}`))
    console.log(`        taps of field with a road, rocket and first flight at 200 %: ${taps.count}`)
  })

  for (const colorScheme of ['light', 'dark']) {
    await clean(`in greys, ${colorScheme}: the counted first flight, and nothing told by colour alone`, { ...SENSING, colorScheme }, async (page, context, at) => {
      await (await withCompass(page, context, at.address))(80, 40)
      const cdp = await context.newCDPSession(page)
      await cdp.send('Emulation.setEmulatedVisionDeficiency', { type: 'achromatopsia' })
      const paper = (await colourOf(page, page.locator('main').first())).rgb
      const lost = await colourOf(page, page.getByRole('button', { name: /^I just lost one/ }))
      assert.ok(lost.tinted <= 6, `no colour is left: ${lost.tinted}`)
      assert.ok(contrast(lost.rgb, paper) >= 3, `the button for a lost one: ${lost.rgb} on ${paper}`)
      const taps = await firstFlight(page, ENGLISH, async (name) => {
        await shoot(page, `first-grey-${colorScheme}-${name}`)
        await sound(page)
        // What is chosen is filled where the others are not: told by a shape, and by its grey as well.
        const chosen = page.locator('label:has(input[type="radio"]:checked):visible').first()
        const other = page.locator('label:has(input[type="radio"]:not(:checked)):visible').first()
        if ((await chosen.count()) > 0 && (await other.count()) > 0) {
          const [a, b] = [await colourOf(page, chosen), await colourOf(page, other)]
          assert.ok(contrast(a.rgb, b.rgb) >= 3, `${name}, chosen beside not chosen: ${a.rgb} ${b.rgb}`)
          const hole = (it) => it.locator('.hole').evaluate((mark) => getComputedStyle(mark).backgroundImage)
          assert.notEqual(await hole(chosen), await hole(other), 'the hole of a chosen tag is filled')
        }
        if (name === 'asked' || name === 'ready') {
          for (const it of await page.locator('main button:visible').all()) {
            const box = await it.boundingBox()
            assert.ok(box.height >= 64 && box.width >= 64, `in flight: ${await it.innerText()} ${box.width} x ${box.height}`)
          }
        }
        if (name === 'answer') {
          // What warns has a sign and words, and stands out of the paper in greys too.
          const caution = page.getByRole('region', { name: 'Before you walk' })
          assert.ok((await caution.locator('svg').count()) > 0)
          assert.ok((await caution.innerText()).length > 20)
          assert.match(await page.locator('main').innerText(), /\d+ of 10/)
        }
      })
      console.log(`        taps in greys, ${colorScheme}: ${taps.count}`)
      // How far a search has come is a word of its own, not a colour.
      await page.goto('about:blank')
      await page.goto(at.address)
      assert.equal((await page.locator('[data-standing]').first().innerText()).trim().length > 0, true)
    })
  }

  await clean('one whole day: the map at home, to the phone, a flight, a find, a code from phone to phone, a second flight, the pick-up walk, the past', SENSING, async (page, context, at) => {
    // At home, on the desktop: a field by its map.
    const home = await openClean()
    let file
    try {
      const desk = await context.browser().newContext({ ...DESKTOP, permissions: ['geolocation'], geolocation: SENSING.geolocation })
      const there = await desk.newPage()
      await there.goto(home.address)
      await ask(there, 'keep_site', { field: { name: 'Sedge Meadow', hazards: [] }, pad: { name: 'pad', ...PAD, accuracy_m: 4 } })
      await there.locator('[data-calm="fields"]').click()
      await there.locator('[data-site]').click()
      const { lat, lon } = PAD
      const osm = `<?xml version="1.0"?><osm version="0.6"><node id="1" lat="${lat - 0.01}" lon="${lon + 0.004}"/><node id="2" lat="${lat + 0.01}" lon="${lon + 0.004}"/>
        <way id="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="tertiary"/><tag k="name" v="Sedge Lane"/></way></osm>`
      await there.getByRole('button', { name: /^From an open map/ }).click()
      await there.locator('input[type="file"]').first().setInputFiles({ name: 'map.osm', mimeType: 'application/xml', buffer: Buffer.from(osm) })
      await there.getByRole('checkbox', { name: /Sedge Lane/ }).check()
      await button(there, 'Confirm 1').click()
      await there.waitForFunction(() => document.querySelector('[data-drawn-hazards="1"]'))
      await there.getByRole('button', { name: /^Send it to the phone/ }).click()
      const saved = there.waitForEvent('download')
      await button(there, 'Save as a file').click()
      file = join(tmpdir(), `windfall-${process.pid}-day.json`)
      await (await saved).saveAs(file)
      await desk.close()
    } finally {
      home.close()
    }
    // On the field: the file comes to the phone, a rocket is made, the wind told.
    const point = await withCompass(page, context, at.address)
    await point(80, 40)
    await page.locator('[data-calm="fields"]').tap()
    await page.locator('input[type="file"]').setInputFiles(file)
    await page.getByRole('heading', { level: 1, name: 'Sedge Meadow' }).waitFor()
    await page.goto('about:blank')
    await page.goto(at.address)
    await page.locator('[data-calm="today"]').tap()
    await radio(page, 'Fields', 'Sedge Meadow').check()
    await button(page, 'Make a rocket').tap()
    await page.getByLabel('Name', { exact: true }).fill('Linnet')
    await page.getByLabel('Motor', { exact: true }).fill('A8-3')
    await page.getByText('Understood: A8-3').waitFor()
    await button(page, 'Keep').tap()
    await radio(page, 'It goes towards', 'east').check()
    await radio(page, 'It moves', 'leaves, felt on the face').check()
    await button(page, 'That is the wind').tap()
    await page.getByRole('heading', { name: 'Look east, where the wind goes' }).waitFor()
    await radio(page, 'The first thing in that direction', 'open ground').check()
    await radio(page, 'How far off?', 'further').check()
    await button(page, 'Mark it').tap()
    await page.locator('[data-look-toward]').waitFor({ state: 'detached' })
    // The first flight, seen to land, and picked up whole.
    const goesUp = async () => {
      await button(page, 'Fly it').tap()
      await button(page, 'All done: to the pad').tap()
      await page.getByRole('heading', { name: 'Linnet' }).waitFor()
      await page.waitForTimeout(1500)
      await counted(page).hold(page.locator('button.hold'), 1.5)
      await page.getByRole('button', { name: 'I saw it land' }).tap()
      await page.getByRole('button', { name: 'Where may it be?' }).tap()
      await answered(page)
      // What comes at once is rough: the flight is over when its answer is there.
      await page.waitForFunction(() => document.querySelector('.busy')?.textContent.trim() === '', null, { timeout: 60_000 })
    }
    await goesUp()
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'All of it' }).tap()
    await page.locator('[data-found]').waitFor()
    // The second flight; a friend saw it too and shows a code.
    await page.goto('about:blank')
    await page.goto(at.address)
    await page.locator('[data-calm="today"]').tap()
    await button(page, 'Fly it').waitFor()
    assert.equal(await page.locator('[data-open]').count(), 0, 'nothing is out there')
    await goesUp()
    await shoot(page, 'day-second')
    const other = await openClean()
    try {
      const theirs = await context.newPage()
      await theirs.goto(other.address)
      const flight = { format: 'windfall-flight/1', title: 'Linnet, seen by Wren', pad: PAD, rocket: { name: 'Linnet', stages: [{ motor: 'A8-3' }] }, launch: { at: new Date().toISOString() }, evidence: [{ kind: 'sighting', moment: 'landed', bearing_deg: 95, t_s: 30, from: { lat: PAD.lat - 0.0008, lon: PAD.lon } }] }
      await ask(theirs, 'tell_flight', { flight })
      await theirs.reload()
      await theirs.locator('[data-calm="share"]').tap()
      await theirs.getByRole('radio', { name: /seen by Wren/ }).check()
      await theirs.getByLabel('Your name, for the other phone').fill('Wren')
      await button(theirs, 'What I saw').tap()
      await theirs.locator('svg[data-code]').waitFor()
      const code = await theirs.locator('svg[data-code]').screenshot()
      await theirs.close()
      await page.bringToFront()
      await page.goto('about:blank')
      await page.goto(at.address)
      await page.locator('[data-calm="share"]').tap()
      await page.locator('input[type="file"]').setInputFiles({ name: 'code.png', mimeType: 'image/png', buffer: code })
      await page.locator('[data-got="seen"]').waitFor()
      const mine = page.getByRole('group', { name: 'To which of your flights does it belong?' }).getByRole('radio')
      await mine.first().click({ force: true }) // the latest comes first; it leaves the screen
      await answered(page)
    } finally {
      other.close()
    }
    // What is out there is walked to in one round, by the lane of the map from home.
    await page.goto('about:blank')
    await page.goto(at.address)
    await page.locator('[data-calm="today"]').tap()
    await page.locator('[data-open]').waitFor()
    assert.equal(await page.locator('[data-open]').count(), 1)
    await button(page, 'Pick-up walk').tap()
    await page.locator('[data-leg]').waitFor({ timeout: 60_000 })
    await shoot(page, 'day-round')
    await sound(page)
    await page.locator('[data-leg]').first().tap()
    await answered(page)
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByRole('button', { name: 'All of it' }).tap()
    await page.locator('[data-found]').waitFor()
    // In the evening: both flights of the day, with what the friend saw, and nothing out there.
    await page.goto('about:blank')
    await page.goto(at.address)
    await page.locator('[data-calm="past"]').tap()
    await page.locator('[data-past]').nth(1).waitFor()
    assert.equal(await page.locator('[data-past]').count(), 2)
    await page.locator('[data-past]').first().tap()
    await page.getByRole('heading', { name: 'As it was shown last' }).waitFor()
    await shoot(page, 'day-past')
    await sound(page)
    const [latest] = (await ask(page, 'list_log', {})).toReversed()
    const { evidence } = await ask(page, 'show_flight', { id: latest.name })
    assert.ok(evidence.some((it) => it.observer === 'Wren'), JSON.stringify(evidence))
    assert.equal((await ask(page, 'day', {})).open.length, 0)
  })
}
