// The walk to it, and the find.
import assert from 'node:assert/strict'
import { join } from 'node:path'
import { answered, ask, counted, DESKTOP, PHONE, SENSING, tellAnew, withCompass } from './site.mjs'

const choose = async (page, flight) => {
  await page.locator(`[data-flight="${flight}"]`).click()
  await answered(page)
}

/** Three days ago in a strong wind over a park with short grass, a wood where it came down. */
const inAPark = (flight) => {
  const launch = { ...flight.launch, at: `${new Date(Date.now() - 3 * 86_400_000).toISOString().slice(0, 10)}T12:00:00Z` }
  const corners = [[17.2875, 47.530], [17.2935, 47.530], [17.2935, 47.5345], [17.2875, 47.5345], [17.2875, 47.530]]
  const wood = { kind: 'trees', name: 'Sallow Copse', geometry: { type: 'Polygon', coordinates: [corners] }, height_m: 15 }
  const wind = flight.wind.slice(0, 1).map((it) => ({ ...it, at: null, gust_mps: null, speed_mps: 6 }))
  const field = { ...flight.field, ground: 'short_grass', place: 'public_place', hazards: [...flight.field.hazards.filter((it) => !['trees', 'crop'].includes(it.kind)), wood] }
  return { ...flight, launch, wind, field, evidence: [{ kind: 'saw', mode: 'opened', sure: 'sure' }] }
}

/** A picture, if WINDFALL_SHOTS names a folder. */
const shoot = async (page, name) => {
  if (process.env.WINDFALL_SHOTS) await page.screenshot({ path: join(process.env.WINDFALL_SHOTS, `${name}.png`) })
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
    // It is noted before anything is computed: nobody with it in the hand waits for that.
    let release = () => undefined
    const held = new Promise((done) => (release = done))
    await page.route('**/api/locate_flight', async (route) => {
      await held
      await route.continue()
    })
    await taps.tap(page.getByRole('button', { name: 'All of it' }))
    const far = await page.locator('[data-found]').innerText()
    assert.equal(taps.count, 2)
    // The phone stands 0.0008 degrees east of the pad at 47.5312 N: 60.2 m on the ellipsoid.
    assert.match(far, /\b(5[89]|6[0-2])\s*m/)
    // 5 degrees of declination there (WMM2025).
    assert.match(far, /08[456]° magnetic/)
    await sound(page)
    const done = page.getByRole('button', { name: 'Done' })
    const before = await done.boundingBox()
    await page.getByRole('radio', { name: 'nothing opened' }).tap()
    await page.getByText('may still be live').waitFor()
    await page.getByRole('group', { name: 'How sure?' }).waitFor()
    assert.deepEqual(await done.boundingBox(), before, 'Done has moved')
    await page.getByText('worked out behind this').waitFor()
    release()
    await page.getByRole('radio', { name: 'tube bent' }).tap()
    await sound(page)
    await done.tap()
    await answered(page)
    await page.getByText('Found, all of it').waitFor()
    assert.equal(await page.getByRole('region', { name: 'Before you walk' }).count(), 0)
    assert.equal(await page.getByText('Start at the ring').filter({ visible: true }).count(), 0)
    assert.equal(await page.getByRole('button', { name: 'Found it' }).count(), 0)
    await sound(page)
    console.log(`        taps: ${taps.count}`)
  })

  for (const options of [PHONE, DESKTOP, { ...DESKTOP, colorScheme: 'dark' }]) {
    await check(`a wood that may hold it, an open parachute that drags, and three days in a park are said, ${options === PHONE ? 'phone' : options.colorScheme ?? 'desktop'}`, options, async (page) => {
      const id = await tellAnew(page, 'heron-lost', inAPark)
      await choose(page, id)
      const words = await page.locator('.paper').innerText()
      const [answer, cautions] = [await ask(page, 'locate_flight', { id }), await page.getByRole('region', { name: 'Before you walk' }).innerText()]
      const { rests, hazards } = answer.parts[0]
      assert.ok(rests.in_a_tree > 0.05 && rests.dragged.probability > 0.05, JSON.stringify(rests))
      assert.equal(hazards.find((it) => it.kind === 'trees').look_up, true)
      assert.match(cautions, /It may hang in a tree \(about [1-9] of 10 flights like this\): look up, do not climb/)
      assert.match(words, /The open parachute may have dragged it \d+\s.* to \d+\s.* towards the /)
      assert.match(words, /It may be gone: after 3 days in a public place, about 2 of 10\. Even a search of the whole wide area finds it in 7 of 10 at most\./)
      await shoot(page, `rests-${options === PHONE ? 'phone' : options.colorScheme ?? 'desktop'}`)
      await sound(page)
    })
  }

  await check('where it should be, it is said that it may have been dragged, or be gone', SENSING, async (page, context) => {
    const id = await tellAnew(page, 'heron-lost', inAPark)
    await choose(page, id)
    const { aim } = (await ask(page, 'locate_flight', { id })).parts[0]
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await stand(context, aim.lat, aim.lon)
    await page.locator('[data-rests]', { hasText: 'may have dragged it' }).waitFor()
    await page.locator('[data-rests]', { hasText: 'It may be gone: after 3 days' }).waitFor()
    await shoot(page, 'rests-walk')
    await sound(page)
  })

  await check('the altimeter on a keypad: the unit is remembered, and a digit too many is asked about', SENSING, async (page) => {
    const id = await tellAnew(page, 'dunnock-streamer')
    await choose(page, id)
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'All of it' }).tap()
    await page.getByRole('button', { name: 'Altimeter' }).tap()
    await sound(page)
    const [low, high] = await page.evaluate(async (flight) => {
      const token = new URLSearchParams(location.hash.slice(1)).get('token')
      const headers = { 'Content-Type': 'application/json', Authorization: `Bearer ${token}` }
      const check = await (await fetch('/api/check_altimeter', { method: 'POST', headers, body: JSON.stringify({ id: flight, apogee_m: 100 }) })).json()
      return [check.low_m, check.high_m]
    }, id)
    const expected = Math.round((low + high) / 2)
    const type = async (number) => {
      for (const digit of String(number)) await page.getByRole('button', { name: digit, exact: true }).tap()
    }
    await type(expected * 10)
    await page.getByRole('button', { name: 'Note it' }).tap()
    await page.getByText(`${expected * 10}\u00a0m?`).waitFor()
    await sound(page)
    const noted = page.waitForRequest('**/api/tell_flight')
    await page.getByRole('button', { name: `I meant ${expected}\u00a0m` }).tap()
    const told = (await noted).postDataJSON().flight.evidence.at(-1)
    assert.equal(told.kind, 'altimeter')
    assert.ok(Math.abs(told.apogee_m - expected) < 1e-6)
    // Beside it stands what was expected.
    const beside = await page.locator('[data-beside]').innerText()
    assert.match(beside, new RegExp(`^${expected}\\sm by the altimeter; between ${Math.round(low)}\\sm and ${Math.round(high)}\\sm`))
    // Feet from now on, also after the program was closed.
    await page.getByRole('button', { name: `Altimeter: ${expected}` }).tap()
    await page.getByRole('button', { name: 'feet' }).tap()
    await page.reload()
    await choose(page, id)
    assert.equal(await page.evaluate(() => JSON.parse(localStorage.getItem('windfall.settings')).altimeter), 'ft')
  })

  await check('a photo of the find is drawn anew, and it is said that no logbook keeps it', SENSING, async (page) => {
    const id = await tellAnew(page, 'dunnock-streamer')
    await choose(page, id)
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'All of it' }).tap()
    await page.locator('[data-found]').waitFor()
    // Four dots, with a place beside them as a camera writes it (JPEG, application segment 1).
    const bytes = await page.evaluate(async () => {
      const canvas = Object.assign(document.createElement('canvas'), { width: 2, height: 2 })
      canvas.getContext('2d').fillRect(0, 0, 2, 2)
      const blob = await new Promise((done) => canvas.toBlob(done, 'image/jpeg'))
      return [...new Uint8Array(await blob.arrayBuffer())]
    })
    const secret = Buffer.from('GPS 47.5312 N')
    const segment = Buffer.concat([Buffer.from([0xff, 0xe1, 0, secret.length + 2]), secret])
    const buffer = Buffer.concat([Buffer.from(bytes.slice(0, 2)), segment, Buffer.from(bytes.slice(2))])
    await page.locator('input[type=file]').setInputFiles({ name: 'find.jpg', mimeType: 'image/jpeg', buffer })
    const picture = page.getByRole('img', { name: /^Photo/ })
    await picture.waitFor()
    const kept = Buffer.from((await picture.getAttribute('src')).split(',')[1], 'base64')
    assert.ok(!kept.includes('GPS'))
    await page.getByText('No logbook is open').waitFor()
    await sound(page)
  }, { mayLog: true }) // Chromium logs the call that was refused

  await check('only part of it: what is missing has its own search at once', SENSING, async (page) => {
    await choose(page, 'redpoll-letter-only')
    const before = await page.locator('.place').innerText()
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    await page.getByRole('button', { name: 'Only part of it' }).tap()
    await sound(page)
    await page.getByRole('group', { name: 'What is missing?' }).waitFor()
    await page.getByRole('checkbox', { name: 'nose with the chute' }).tap()
    await page.getByRole('button', { name: 'Look for it' }).tap()
    await page.getByText('Where the rest may be').waitFor()
    await page.getByRole('button', { name: 'The whole answer' }).tap()
    await answered(page)
    await page.getByRole('radio', { name: 'nose with the chute' }).and(page.locator(':checked')).waitFor()
    assert.notEqual(await page.locator('.place').innerText(), before)
    await sound(page)
  })

  await check('of a rocket that was declared in parts each is one tap, the one that was looked for first', SENSING, async (page) => {
    const id = await tellAnew(page, 'fieldfare-came-apart')
    await choose(page, id)
    const parts = page.getByRole('group', { name: 'Part' })
    await parts.getByRole('radio', { name: 'lower' }).check({ force: true })
    await page.getByRole('button', { name: 'Found it' }).tap()
    await page.getByText('Noted where you stand').waitFor()
    assert.deepEqual(await page.locator('main button.main').allInnerTexts(), ['All of it', 'Only this: lower', 'Only this: upper'])
    await sound(page)
    await shoot(page, 'find-declared')
    await page.getByRole('button', { name: 'Only this: lower' }).tap()
    await page.locator('[data-rest]').waitFor()
    await page.locator('canvas[data-share]').waitFor()
    if (site.isReal) assert.deepEqual((await ask(page, 'show_flight', { id })).evidence.filter((it) => it.kind === 'find').map((it) => it.part), ['lower'])
  })

  for (const [locale, walk] of [['en-NZ', 'Walk there'], ['es-ES', 'Ir allí']]) {
    await check(`with the cautions open the whole map of the walk is in sight, on the way and at its end, ${locale}`, { ...SENSING, locale }, async (page, context) => {
      await choose(page, 'siskin-track')
      const first = page.waitForRequest('**/api/walk_to')
      await page.getByRole('button', { name: walk }).tap()
      const { to } = (await first).postDataJSON()
      const covered = () => page.evaluate(() => document.querySelector('.ground').getBoundingClientRect().bottom - document.querySelector('footer').getBoundingClientRect().top)
      await page.locator('.ground [data-drawn-regions]').waitFor()
      await shoot(page, `walk-map-${locale}`)
      assert.ok((await covered()) <= 0, `${await covered()} px of the map below the footer, on the way`)
      await stand(context, to.lat, to.lon)
      await page.locator('.way.there, .stop').first().waitFor()
      if (await page.locator('.way.there').isVisible()) {
        await shoot(page, `walk-map-there-${locale}`)
        assert.ok((await covered()) <= 8, `${await covered()} px of the map below the footer, at its end`)
      }
    })
  }

  await check('one tap says that it is hot, and water is thought of on every walk of the day', SENSING, async (page) => {
    await choose(page, 'heron-lost')
    const walk = page.getByRole('button', { name: 'Walk there' })
    await walk.tap()
    await page.getByRole('button', { name: 'It is hot: 30 °C or more' }).tap()
    await page.getByText('turn back when half of the water is gone').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    await walk.tap()
    await page.getByText('turn back when half of the water is gone').waitFor()
    await page.getByRole('button', { name: 'It is not hot' }).tap()
    await page.getByRole('button', { name: 'It is hot: 30 °C or more' }).waitFor()
    // 30 * 1.8 + 32.
    await page.evaluate(() => localStorage.setItem('windfall.settings', JSON.stringify({ language: 'en', units: 'imperial', own: {} })))
    await page.reload()
    await choose(page, 'heron-lost')
    await walk.tap()
    await page.getByRole('button', { name: 'It is hot: 86 °F or more' }).tap()
    await page.getByText('86 °F and more: take water').waitFor()
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

  await check('the arrow holds while the phone is tilted up, past upright and back', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(20, -90)
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    const turned = async () => {
      await page.waitForTimeout(350)
      return Number(/rotate\((-?\d+)/.exec(await page.locator('svg.arrow g').getAttribute('style'))[1])
    }
    await page.locator('svg.arrow').waitFor()
    const flat = await turned()
    for (const up_deg of [-60, -20, 0, 20]) {
      await point(20, up_deg)
      const now = await turned()
      assert.ok(Math.abs(now - flat) <= 2, `${flat} flat, ${now} at ${up_deg}`)
    }
    await point(50, 0)
    assert.ok(Math.abs((await turned()) - flat + 30) <= 2)
  })

  await check('an answer in a wet hand is locked: taps do nothing until a finger has rested', SENSING, async (page) => {
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Wet hands: lock' }).tap()
    const lock = page.getByRole('button', { name: 'Locked' })
    await lock.waitFor()
    await sound(page)
    // Where "Walk there" and the map stand.
    for (const [x, y] of [[100, 750], [200, 150], [300, 820]]) await page.touchscreen.tap(x, y)
    await lock.tap()
    assert.ok(await lock.isVisible())
    await shoot(page, 'answer-locked')
    await counted(page).hold(lock, 1.4)
    await lock.waitFor({ state: 'detached' })
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('[data-walk-distance], .stop').first().waitFor()
  })

  await check('the cautions are folded once read, the most urgent stays, and they open again', SENSING, async (page) => {
    await choose(page, 'heron-lost')
    const box = page.getByRole('region', { name: 'Before you walk' })
    const [first] = (await box.locator('li').allInnerTexts())
    const tall = async () => (await box.boundingBox()).height
    const before = await tall()
    await box.getByRole('button', { name: /I have read it/ }).tap()
    assert.deepEqual(await box.locator('li').allInnerTexts(), [first])
    assert.ok((await tall()) < 0.75 * before, `${before} to ${await tall()}`)
    await sound(page)
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('[data-walk-distance], .stop').first().waitFor()
    await box.getByRole('button', { name: /more/ }).tap()
    assert.ok((await box.locator('li').count()) > 1)
  })

  await check('fire and a charge that may be live are said before anybody has walked a step', SENSING, async (page) => {
    const id = await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, field: { ...flight.field, cover: 'dry grass' }, evidence: [{ kind: 'saw', mode: 'none_opened', sure: 'sure' }] }))
    await choose(page, id)
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('[data-walk-distance], .stop').first().waitFor()
    const cautions = await page.getByRole('region', { name: 'Before you walk' }).innerText()
    assert.match(cautions, /look for smoke first/)
    assert.match(cautions, /may still be live: keep faces away from both ends/)
    await shoot(page, 'walk-live')
  })

  await check('an orchard about the place: the way ends before it, from wherever one comes, and it is said what one stops for', SENSING, async (page, context) => {
    const { aim } = (await ask(page, 'locate_flight', { id: 'heron-lost' })).parts[0]
    // About 60 m to every side, for without the crop and the pond it lies some metres off: a degree of this meridian is 111 176 m, one of its parallel 75 200 m (WGS 84).
    const [high, wide] = [60 / 111_176, 60 / 75_200]
    const corners = [[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]].map(([e, n]) => [aim.lon + e * wide, aim.lat + n * high])
    const orchard = { kind: 'private_land', name: 'Sloe Orchard', geometry: { type: 'Polygon', coordinates: [corners] } }
    const id = await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, field: { name: 'Sedge Meadow', hazards: [orchard] } }))
    for (const [side, east] of [['west', -2], ['east', 2]]) {
      await choose(page, id)
      await stand(context, aim.lat, aim.lon + east * wide)
      const asked = page.waitForResponse('**/api/walk_to')
      await page.getByRole('button', { name: 'Walk there' }).tap()
      const { approach, short_m } = await (await asked).json()
      assert.ok(Math.sign(approach.lon - aim.lon) === Math.sign(east), `${side}: ${JSON.stringify(approach)}`)
      assert.ok(short_m > 40 && short_m < 110, `${side}: ${short_m} m short`)
      await stand(context, approach.lat, approach.lon)
      const reason = page.locator('[data-stops]')
      await reason.waitFor()
      assert.match(await reason.innerText(), /^Stop here: private land \(Sloe Orchard\) lies ahead; /)
      assert.equal(await page.getByText('You are there').count(), 0)
      await page.waitForTimeout(400)
      await shoot(page, `stop-point-${side}`)
      await sound(page)
      await page.reload()
    }
  })

  await check('near it the way fills the map', SENSING, async (page, context) => {
    const id = await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, field: null }))
    await choose(page, id)
    const { aim } = (await ask(page, 'locate_flight', { id })).parts[0]
    // 40 m south of it: a degree of this meridian is 111 176 m (WGS 84).
    await stand(context, aim.lat - 40 / 111_176, aim.lon)
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.waitForFunction(() => Math.abs(Number(document.querySelector('[data-walk-distance]')?.dataset.walkDistance) - 40) < 6)
    const line = page.locator('.ground .ol-scale-line-inner')
    const long_px = async () => {
      const metres = Number(/^(\d+) m$/.exec(await line.innerText())[1])
      return (40 / metres) * (await line.boundingBox()).width
    }
    await page.waitForFunction(() => /^\d\d? m$/.test(document.querySelector('.ground .ol-scale-line-inner')?.textContent ?? ''))
    const ground = await page.locator('.ground').boundingBox()
    assert.ok((await long_px()) > 0.4 * ground.height, `${await long_px()} points of ${ground.height}`)
    await page.waitForTimeout(400)
    await shoot(page, 'walk-near')
    await sound(page)
  })

  await check('a place where no model rocket can be is no place to set out for, and it says why', SENSING, async (page) => {
    await page.route('**/api/locate_flight', async (route) => {
      const response = await route.fetch()
      const answer = await response.json()
      for (const part of answer.parts) part.stay = { say: 'too_far_to_be', distance_m: 44_500, reach_m: 5000 }
      await route.fulfill({ response, json: answer })
    })
    await choose(page, 'heron-lost')
    const stay = page.locator('[data-stay="too_far_to_be"]')
    assert.match(await stay.innerText(), /Do not set out yet\s+The place is 44[.,]5\s*km from the pad, and no model rocket should come down farther than 5(\.0)?\s*km/)
    assert.equal(await page.getByRole('button', { name: 'Walk there' }).count(), 0)
    await page.getByRole('button', { name: 'Found it' }).waitFor()
    await shoot(page, 'stay')
    await sound(page)
  })

  await check('at the place there is no arrow left, and "not here" is noted', SENSING, async (page, context) => {
    await choose(page, 'siskin-track')
    const first = page.waitForRequest('**/api/walk_to')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    const { to } = (await first).postDataJSON()
    await stand(context, to.lat, to.lon)
    await page.getByText(/You are there|STOP/).first().waitFor()
    if (await page.getByText('You are there').isVisible()) {
      await page.locator('[data-drawn-regions]').first().waitFor()
      // How large it is that lies in the grass.
      assert.match(await page.locator('[data-size]').innerText(), /is \d+(\.\d)?\scm long and \d+(\.\d)?\scm across/)
      await page.getByText(/Look downwind: towards the \S+ \(an? \S+ wind\)/).waitFor()
    }
    await sound(page)
    const noted = page.waitForRequest('**/api/add_evidence')
    let goOn
    const waited = new Promise((done) => (goOn = done))
    await page.route('**/api/add_evidence', async (route) => {
      await waited
      await route.continue()
    })
    await page.getByRole('button', { name: 'Not here' }).tap()
    const { evidence } = (await noted).postDataJSON()
    // The tap was felt, and a second one notes nothing.
    assert.ok(await page.getByRole('button', { name: 'Noting …' }).isDisabled())
    await shoot(page, 'walk-noting')
    goOn()
    assert.equal(evidence[0].kind, 'sweep')
    assert.ok(evidence[0].path.length >= 2)
    // It leads somewhere: another way it may have come down, somebody else, or later.
    await page.getByRole('heading', { name: 'What next?' }).waitFor()
    await sound(page)
    // Nothing leads back to it: it is crossed out on the map, which stays, also for whoever comes again.
    assert.equal(await page.locator('.arrow').count(), 0)
    assert.ok(Number(await page.locator('[data-drawn-walked]').getAttribute('data-drawn-walked')) > 0)
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('[data-searched], .stop').first().waitFor()
    await page.locator('[data-next="ask"]').waitFor()
    const way = page.locator('[data-next]:not([data-next="ask"], [data-next="later"], [data-next="part"])').first()
    if ((await way.count()) > 0) {
      await way.tap()
      await page.getByText('start at the dotted ring').waitFor()
    } else await page.locator('[data-next="later"]').tap()
  })

  for (const [device, size] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
    for (const colorScheme of ['light', 'dark']) {
      await check(`the map on the way turns with the walker, on a ${device} in ${colorScheme}`, { ...SENSING, ...size, isMobile: size === PHONE, colorScheme }, async (page, context) => {
        const point = await withCompass(page, context, site.address)
        await point(0, -90)
        await choose(page, 'heron-lost')
        await page.getByRole('button', { name: 'Walk there' }).click()
        const ground = page.locator('.ground[data-up]')
        await ground.locator('[data-drawn-marks]').waitFor()
        const up = async () => Number(await ground.getAttribute('data-up'))
        const first = await up()
        const sight = () => ground.locator('.sheet canvas').first().evaluate((it) => it.toDataURL())
        await page.waitForTimeout(500)
        const before = await sight()
        await point(80, -90)
        await page.waitForFunction((was) => document.querySelector('.ground[data-up]').dataset.up !== String(was), first)
        assert.ok(Math.abs((((await up()) - first + 540) % 360) - 180 - 80) < 2, `${first} to ${await up()}`)
        await page.waitForTimeout(500)
        assert.notEqual(await sight(), before)
        await sound(page)
      })
    }
  }

  await check('the line over the camera: as wide as the doubt, then into the pocket, and locked', { ...SENSING, permissions: [...SENSING.permissions, 'camera'] }, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(0, -90)
    await choose(page, 'heron-lost')
    const asked = page.waitForRequest('**/api/walk_to')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    const { bearing_magnetic_deg: way, doubt_deg } = await (await (await asked).response()).json()
    await point(3, -90)
    await page.locator('svg.arrow').waitFor()
    await page.getByRole('button', { name: 'See the line' }).tap()
    await point(way - 90, 0)
    await page.getByText(/Turn right, (89|9[01])°/).waitFor()
    await point(way, 0)
    const band = page.locator('[data-band]')
    await band.waitFor()
    await page.waitForFunction(() => Math.abs(Number(document.querySelector('[data-band]')?.dataset.band)) < 0.3)
    /** Where the band is once it has come to rest: the compass is smoothed. */
    const resting = async () => {
      for (let last = null; ; ) {
        const box = await band.boundingBox()
        if (last && Math.hypot(box.x - last.x, box.width - last.width) < 0.1) return box
        last = box
        await page.waitForTimeout(200)
      }
    }
    const box = await resting()
    assert.ok(Math.abs(box.x + box.width / 2 - 195) < 3, JSON.stringify(box))
    const wide = box.width
    await point(way + 5, 0)
    await page.waitForFunction(() => Math.abs(Number(document.querySelector('[data-band]')?.dataset.band) + 5) < 0.3)
    const moved = await resting()
    assert.ok(moved.x < box.x && Math.abs(moved.width - wide) < 0.15 * wide)
    // Twice the doubt, where 5 degrees are so many points.
    const perDeg = (box.x - moved.x) / 5
    assert.ok(Math.abs(wide / perDeg - 2 * doubt_deg) < 0.1 * 2 * doubt_deg, `${wide / perDeg} for ${doubt_deg}`)
    await sound(page)
    await page.getByRole('button', { name: 'into the pocket' }).tap()
    await page.getByText('Walk to what you picked').waitFor()
    await sound(page)
    // A wet screen: taps on what lies underneath and short ones on the lock do nothing.
    const lock = page.getByRole('button', { name: 'Locked' })
    await page.touchscreen.tap(195, 120)
    await lock.tap()
    assert.ok(await lock.isVisible())
    const taps = counted(page)
    await taps.hold(lock, 1.4)
    await lock.waitFor({ state: 'detached' })
    await page.locator('svg.arrow').waitFor()
    await page.getByRole('button', { name: 'Wet hands' }).tap()
    await page.getByRole('button', { name: 'Locked' }).press('Enter')
    await page.getByRole('button', { name: 'Locked' }).waitFor({ state: 'detached' })
  })

  await check('in the pocket: a buzz when the steps leave the line, also muted', SENSING, async (page, context) => {
    await page.addInitScript(() => {
      window.buzzes = []
      navigator.vibrate = (pattern) => window.buzzes.push(pattern.length)
      window.AudioContext = undefined // muted for good: a web view without sound
      // A receiver that says how it moves, as those of phones do.
      const heard = []
      navigator.geolocation.watchPosition = (ok) => heard.push(ok)
      navigator.geolocation.clearWatch = () => undefined
      window.walk = (latitude, longitude, heading) => {
        const fix = { coords: { latitude, longitude, accuracy: 5, heading, speed: heading === null ? 0 : 1.3 }, timestamp: Date.now() }
        for (const ok of heard) ok(fix)
      }
    })
    await page.reload()
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('Finding you').waitFor()
    const asked = page.waitForRequest('**/api/walk_to')
    await page.evaluate(() => window.walk(47.5312, 17.2847, null))
    const { bearing_true_deg: way } = await (await (await asked).response()).json()
    await page.getByRole('button', { name: 'See the line' }).tap()
    await page.getByText('no compass').waitFor()
    await page.getByRole('button', { name: 'into the pocket' }).tap()
    const buzzes = () => page.evaluate(() => window.buzzes.filter((it) => it === 5).length)
    await page.evaluate((heading) => window.walk(47.53121, 17.28471, heading), way + 12)
    await page.waitForTimeout(300)
    assert.equal(await buzzes(), 0)
    await page.evaluate((heading) => window.walk(47.53122, 17.28472, heading), way + 22)
    await page.getByText('Too far right').waitFor()
    assert.equal(await buzzes(), 1)
    await sound(page)
  })

  await check('light left, the way back, the car, and an empty battery', SENSING, async (page, context) => {
    await page.addInitScript(() => {
      const battery = Object.assign(new EventTarget(), { level: 0.6, charging: false })
      navigator.getBattery = () => Promise.resolve(battery)
      window.drain = (level) => {
        battery.level = level
        battery.dispatchEvent(new Event('levelchange'))
      }
    })
    // Sunset at 47.53 N, 17.28 E on that day: 20:26 by the clock there (computed with this program, which is held against an almanac).
    await page.clock.install({ time: '2026-05-16T17:30:00Z' })
    const point = await withCompass(page, context, site.address)
    await point(0, -90)
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('svg.arrow').waitFor()
    await page.locator('[data-light]').waitFor()
    assert.match(await page.locator('[data-light]').innerText(), /light left [01]:\d\d/)
    await page.getByRole('button', { name: 'The car is here' }).tap()
    await page.getByRole('button', { name: /Way back: \d+\s*m/ }).tap()
    await page.getByText('You are back').waitFor()
    await sound(page)
    await page.getByRole('button', { name: /On to:/ }).tap()
    await page.locator('svg.arrow').waitFor()
    await page.evaluate(() => window.drain(0.12))
    await page.getByText('Battery at 12').waitFor()
    assert.equal(await page.locator('.ground').count(), 0)
    assert.match(await page.locator('.hand').innerText(), /Write on your hand: \d{3}° magnetic, \d+\s*m/)
    await sound(page)
  })

  await check('a hot phone is for the arrow and the numbers until it has cooled', SENSING, async (page, context) => {
    // What the activity on Android offers its pages; the clock is the page's own, so that it goes on by hand.
    await page.addInitScript(() => {
      window.hot = false
      window.windfallScreen = { keepLit: () => undefined, isHot: () => window.hot }
    })
    await page.clock.install()
    const point = await withCompass(page, context, site.address)
    await point(0, -90)
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('.ground').waitFor()
    await page.evaluate(() => (window.hot = true))
    await page.clock.runFor(16_000)
    await page.getByText('The phone is hot').waitFor()
    await page.locator('svg.arrow').waitFor()
    assert.equal(await page.locator('.ground').count(), 0)
    assert.match(await page.locator('.hand').innerText(), /Write on your hand: \d{3}° magnetic/)
    await sound(page)
    await page.evaluate(() => (window.hot = false))
    await page.clock.runFor(16_000)
    await page.locator('.ground').waitFor()
  })

  await check('after dark it says to come back in daylight', { ...SENSING, colorScheme: 'dark' }, async (page) => {
    // Dark at 47.53 N, 17.28 E on that day from about 21:05 by the clock there (civil dusk, computed with this program).
    await page.clock.install({ time: '2026-05-16T20:30:00Z' })
    await page.reload()
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('It is dark: come back in daylight').waitFor()
    await sound(page)
  })

  await check('from 30 degrees on: water', SENSING, async (page, context) => {
    const id = await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, air: { ...flight.air, temperature_c: 33 } }))
    await choose(page, id)
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('30 °C and more').waitFor()
    await sound(page)
  })

  await check('a phone without a compass says to walk ten steps', SENSING, async (page) => {
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('Walk ten steps').first().waitFor()
    assert.equal(await page.locator('svg.arrow').count(), 0)
    await sound(page)
  })

  await check('a camera that is refused leaves the line to the eye', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(0, -90)
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.locator('svg.arrow').waitFor()
    const way = Number(/\d{3}/.exec(await page.locator('.which').innerText())[0])
    await page.getByRole('button', { name: 'See the line' }).tap()
    await point(way, 0)
    await page.locator('[data-band]').waitFor()
    await page.getByText('No camera: hold the phone up all the same').waitFor()
    await sound(page)
  })

  await check('a phone that may not know where it is says so on the walk', { ...SENSING, permissions: [], geolocation: undefined }, async (page) => {
    await choose(page, 'heron-lost')
    await page.getByRole('button', { name: 'Walk there' }).tap()
    await page.getByText('does not let the program know').waitFor()
    await sound(page)
  })
}
