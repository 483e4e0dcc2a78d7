// A flight followed with the phone.
import assert from 'node:assert/strict'
import { answered, ask, counted, DESKTOP, followAStone, openClean, overheard, PHONE, SENSING, shoot, tellAnew, withCompass } from './site.mjs'

const FIELD = 'button.hold'
const told = async (page) => {
  const replies = []
  page.on('request', (request) => {
    if (/append_track|tell_flight|add_evidence/.test(request.url())) replies.push({ call: request.url().split('/').at(-1), sent: request.postDataJSON() })
  })
  return replies
}

const heard = (page) => page.evaluate(() => window.heard)

export async function flights({ check, site, sound, wanted }) {
  await check('a flight is followed by holding anywhere, the chute by a second finger, and the answer by one question', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(80, 40)
    const calls = await told(page)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await sound(page)
    const taps = counted(page)
    await page.waitForTimeout(1500) // as on the pad: the rocket is chosen and its opening computed
    await taps.hold(page.locator(FIELD), 1.5, async (cdp, at) => {
      await page.waitForTimeout(1500)
      await point(82, 35)
      taps.count++
      const second = { x: at.x + 60, y: at.y + 40, id: 2 }
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [{ ...at, id: 0 }, second] })
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [{ ...at, id: 0 }] })
      await page.getByText(/chute out at \d s/).waitFor()
      await sound(page, 48)
    })
    await page.getByText('Where did it go?').waitFor()
    await sound(page)
    await taps.tap(page.getByRole('button', { name: 'I saw it land' }))
    await page.getByText('Feet still').waitFor()
    await sound(page)
    await taps.tap(page.getByRole('button', { name: 'Where may it be?' }))
    await answered(page)
    assert.equal(taps.count, 4)
    if (site.isReal) {
      const samples = calls.filter((it) => it.call === 'append_track').flatMap((it) => it.sent.samples)
      assert.ok(samples.length >= 8, `${samples.length} samples`)
      assert.ok(samples.every(([t_s, bearing, elevation]) => t_s < 9 && bearing > 78 && bearing < 84 && elevation > 30 && elevation < 45), JSON.stringify(samples))
      const pieces = calls.find((it) => it.call === 'add_evidence').sent.evidence
      assert.deepEqual(pieces.map((it) => it.moment ?? it.mode), ['deployment', 'landed', 'opened'])
    }
    console.log(`        taps from lift-off to the answer: ${taps.count}`)
    await taps.tap(page.getByRole('button', { name: 'Found it' }))
    await page.getByText('Noted where you stand').waitFor()
    await taps.tap(page.getByRole('button', { name: 'All of it' }))
    await page.locator('[data-found]').waitFor()
    assert.equal(taps.count, 6)
    console.log(`        taps of the whole flight, picked up: ${taps.count}`)
  })

  await check('the countdown is heard to zero, which is when it goes up; with feet still it is pointed at, and the skyline marks the line', SENSING, async (page, context) => {
    await overheard(page)
    const point = await withCompass(page, context, site.address)
    await point(80, 40)
    const calls = await told(page)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await page.waitForTimeout(1500)
    await page.getByRole('button', { name: 'Countdown: touch at “five”' }).tap()
    await page.getByText('At zero the clock starts by itself').waitFor()
    await sound(page)
    await counted(page).hold(page.locator(FIELD), 1, async () => {
      await page.getByText('I see it').waitFor({ timeout: 8000 })
      await page.waitForTimeout(1500)
    })
    // Five beats of one pitch, and zero an octave higher.
    assert.deepEqual((await heard(page)).slice(0, 6), [880, 880, 880, 880, 880, 1760])
    await page.getByRole('button', { name: 'I saw it land' }).tap()
    await point(84, 2)
    await counted(page).hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
    await page.getByText('Something on the skyline').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Tap it on the map' }).tap()
    await page.getByText('Tap what it was in line with').waitFor()
    await page.waitForTimeout(700)
    await sound(page)
    await page.touchscreen.tap(250, 300)
    await page.getByText('In line with what you tapped').waitFor()
    await page.getByRole('radio', { name: 'on the far side of it' }).tap()
    await sound(page)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    if (!site.isReal) return
    assert.equal(calls.find((it) => it.call === 'tell_flight').sent.flight.launch.timed_by, 'countdown')
    const landed = calls.find((it) => it.call === 'add_evidence').sent.evidence.filter((it) => it.moment === 'landed')
    assert.equal(landed.length, 3)
    assert.ok(landed.every((it) => it.t_s > 2 && it.t_s < 6 && it.t_s === landed[0].t_s), JSON.stringify(landed))
    assert.equal(landed[2].beyond, true)
  })

  /** A rocket with the smallest motor goes up: soon it should be open. */
  const goesUp = async (page, context) => {
    await overheard(page)
    await withCompass(page, context, site.address)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByRole('button', { name: 'Change' }).tap()
    const expected = page.waitForResponse((it) => it.url().includes('expected_opening')).catch(() => null)
    await page.getByRole('radio', { name: '1/2A', exact: true }).tap()
    if (site.isReal) await expected
    await page.waitForTimeout(300)
    await page.locator(FIELD).tap()
    return page.locator('[data-asking]')
  }
  const ALARM = 2100

  await check('nothing reported: it asks first, calmly, and a yes keeps it quiet', SENSING, async (page, context) => {
    const asking = await goesUp(page, context)
    await page.getByText('opens at about').waitFor()
    await asking.waitFor({ timeout: 20_000 })
    assert.equal(await page.getByText('opens at about').count(), 0)
    for (const answer of await asking.locator('button').all()) {
      const box = await answer.boundingBox()
      assert.ok(box.width >= 64 && box.height >= 64, JSON.stringify(box))
    }
    await sound(page)
    assert.deepEqual((await heard(page)).slice(0, 1), [1320])
    await page.getByRole('button', { name: 'Yes, it is out' }).tap()
    await page.getByText('chute is out').waitFor()
    await page.waitForTimeout(7000)
    assert.equal(await page.getByText('HEADS UP').count(), 0)
    assert.ok(!(await heard(page)).includes(ALARM))
  })

  await check('not open when asked: a no is called out at once, and it goes when the chute is out', SENSING, async (page, context) => {
    const asking = await goesUp(page, context)
    await asking.waitFor({ timeout: 20_000 })
    await page.getByRole('button', { name: 'No: warn all' }).tap()
    await page.getByText('HEADS UP').waitFor()
    await sound(page)
    assert.ok((await heard(page)).includes(ALARM))
    await page.getByRole('button', { name: 'Chute out', exact: true }).tap()
    await page.getByText('HEADS UP').waitFor({ state: 'detached' })
  })

  await check('nobody answers: the question is heard twice, then big words', SENSING, async (page, context) => {
    const asking = await goesUp(page, context)
    await asking.waitFor({ timeout: 20_000 })
    await page.getByText('HEADS UP').waitFor({ timeout: 20_000 })
    await page.getByText('Nobody said that the chute is out').waitFor()
    const all = await heard(page)
    // One beep when it should open, the same twice when that is late, and only then the alarm.
    assert.deepEqual(all.slice(0, 3), [1320, 1320, 1320])
    assert.ok(all.indexOf(ALARM) === 3, JSON.stringify(all))
    await sound(page)
  })

  await check('eyes on the sky: with one finger holding, a second one answers; what nobody sees is called once', SENSING, async (page, context) => {
    const asking = await goesUp(page, context)
    await counted(page).hold(page.locator(FIELD), 0.2, async (cdp, at) => {
      await asking.waitFor({ timeout: 20_000 })
      const box = await page.getByRole('button', { name: 'Can’t see it' }).boundingBox()
      const second = { x: box.x + box.width / 2, y: box.y + box.height / 2, id: 2 }
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [{ ...at, id: 0 }, second] })
      await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [{ ...at, id: 0 }] })
      await asking.waitFor({ state: 'detached' })
    })
    await page.getByText('Nobody sees it').waitFor({ timeout: 20_000 })
    await page.waitForTimeout(3500)
    assert.equal((await heard(page)).filter((it) => it === ALARM).length, 3) // one call alternates three times
  })

  await check('a long track: what is known is shown at once, Back works, and the answer takes its place', SENSING, async (page, context) => {
    if (!site.isReal) return
    const point = await withCompass(page, context, site.address)
    await point(266, 0)
    let release = () => undefined
    const held = new Promise((done) => (release = done))
    await page.route('**/api/add_evidence', async (route) => {
      await held
      await route.continue()
    })
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await page.waitForTimeout(1500)
    const watched = page.waitForResponse('**/api/watch_fall')
    await counted(page).hold(page.locator(FIELD), 0.5, async () => {
      // Up to 180 m over the pad, 60 m west of here, in 5 s, and hanging from then on.
      const since = Date.now()
      for (let t_s = 0; t_s < 8; t_s = (Date.now() - since) / 1000) {
        const up_m = t_s < 5 ? 180 * (1 - (1 - t_s / 5) ** 2) : 180 - 4.5 * (t_s - 5)
        await point(266, (Math.atan2(up_m, 60) * 180) / Math.PI)
        await page.waitForTimeout(100)
      }
      await watched
    })
    await page.getByText('Where did it go?').or(page.locator('[data-asking]')).first().waitFor()
    const yes = page.getByRole('button', { name: 'Yes, it is out' })
    if (await yes.isVisible()) await yes.tap()
    await page.getByRole('button', { name: 'Too far to see' }).tap()
    const since = Date.now()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await page.getByText('Still working it out').waitFor()
    await answered(page)
    console.log(`        shown after ${Date.now() - since} ms`)
    assert.ok(Number(await page.locator('[data-drawn-regions]').getAttribute('data-drawn-regions')) > 0)
    await sound(page)
    // It may move by far yet: nobody is sent anywhere, and it says why.
    const stay = page.locator('[data-stay="not_settled"]')
    assert.match(await stay.innerText(), /Do not set out yet\s+It is still being worked out, and the place may yet move far/)
    const walk = page.getByRole('button', { name: 'Walk there' })
    assert.equal(await walk.count(), 0)
    await shoot(page, 'not-settled')
    // The list is one tap away meanwhile.
    await page.getByRole('button', { name: 'Flights' }).waitFor()
    release()
    await page.getByText('Still working it out').waitFor({ state: 'detached', timeout: 60_000 })
    await walk.waitFor()
    assert.equal(await stay.count(), 0)
    await page.waitForFunction(() => Number(document.querySelector('[data-drawn-density]')?.getAttribute('data-drawn-density')) > 0)
  })

  await check('the answer does not come: the list of flights is one tap away', SENSING, async (page, context) => {
    if (!site.isReal) return
    await withCompass(page, context, site.address)
    await page.route('**/api/add_evidence', () => undefined)
    await page.route('**/api/rough_answer', (route) => route.fulfill({ json: null }))
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await counted(page).hold(page.locator(FIELD), 1)
    await page.getByRole('button', { name: 'Too far to see' }).tap()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    // Fly says so too, until it has handed over.
    await page.getByRole('button', { name: 'Flights' }).waitFor()
    await page.getByText('Working through').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Flights' }).tap()
    await page.locator('[data-flight]').first().waitFor()
  })

  await check('the wind is asked once if nobody told it, and what it did; both can be passed over', SENSING, async (page, context) => {
    if (!site.isReal) return
    await withCompass(page, context, site.address)
    const calls = await told(page)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByRole('button', { name: 'Change' }).tap()
    await page.getByRole('radio', { name: 'C', exact: true }).tap()
    // The pad is said in a line, and moved by one tap.
    assert.match(await page.locator('[data-pad]').innerText(), /Pad: here, within \d+\sm/)
    await page.getByRole('button', { name: 'Not here' }).tap()
    await page.locator('[data-pad="near"]').waitFor()
    await sound(page)
    await page.locator(FIELD).tap()
    await counted(page).hold(page.locator(FIELD), 1)
    await page.getByRole('button', { name: 'Too far to see' }).tap()
    await page.getByRole('radio', { name: 'north-east', exact: true }).tap()
    await page.getByRole('radio', { name: 'twigs and light flags' }).tap()
    const did = page.getByRole('button', { name: /What it did/ })
    await did.tap()
    // What opens below the edge is moved up to where it can be read.
    await page.waitForFunction(() => {
      const [first, edge] = [document.querySelector('input[value="opened"]'), document.querySelector('footer')]
      const at = (first?.closest('label') ?? first)?.getBoundingClientRect()
      return at && edge && at.bottom <= edge.getBoundingClientRect().top
    })
    await sound(page)
    await page.getByRole('radio', { name: 'came apart' }).tap()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    const flights = calls.filter((it) => it.call === 'tell_flight').map((it) => it.sent.flight)
    assert.equal(flights[0].pad.accuracy_m, 100)
    assert.deepEqual(flights.at(-1).wind.map((it) => [it.from_deg, it.method]), [[225, 'feel']])
    const pieces = calls.find((it) => it.call === 'add_evidence').sent.evidence
    assert.ok(pieces.some((it) => it.kind === 'saw' && it.mode === 'came_apart'), JSON.stringify(pieces))
  })

  for (const muted of [false, true]) {
    await check(`seen to fall with nothing open: called out at once, ${muted ? 'by words and hand where no sound is' : 'by sound alone'}`, SENSING, async (page, context) => {
      if (!site.isReal) return // invented answers expect nothing
      await overheard(page, { muted })
      // The opening may take long, so that only what is seen can call.
      await page.route('**/api/expected_opening', async (route) => {
        const response = await route.fetch()
        const opening = await response.json()
        await route.fulfill({ response, json: { ...opening, latest_s: opening.latest_s + 20, down_unopened_s: opening.down_unopened_s + 20 } })
      })
      const expected = page.waitForResponse((it) => it.url().includes('expected_opening'))
      const point = await withCompass(page, context, site.address)
      await page.getByRole('button', { name: /^Fly/ }).tap()
      const response = await expected
      const [opening, { flight }] = [await response.json(), response.request().postDataJSON()]
      const { latitude, longitude } = SENSING.geolocation
      const pad_m = [(flight.pad.lon - longitude) * 111_320 * Math.cos((latitude * Math.PI) / 180), (flight.pad.lat - latitude) * 111_200]
      assert.ok(Math.hypot(...pad_m) < 200, `${pad_m} m to the pad`)
      const why = page.getByText('Falling with nothing open')
      let after_s = NaN
      await counted(page).hold(page.locator(FIELD), 0, async () => {
        after_s = await followAStone(page, point, opening, pad_m, () => why.isVisible())
        assert.ok(await why.isVisible(), 'it hit the ground with no call')
        await sound(page)
      })
      console.log(`        called ${after_s.toFixed(1)} s after the top`)
      assert.ok(after_s > 0, 'it was called on the way up')
      const { heard, felt } = await page.evaluate(() => ({ heard: window.heard, felt: window.felt }))
      // The call alternates between two pitches that no other message has.
      assert.equal(heard.includes(2100) && heard.includes(1500), !muted)
      assert.ok(felt.some((pattern) => pattern[0] === 600), JSON.stringify(felt))
    })
  }

  await check('did not light: one tap, a minute, and nothing is kept', SENSING, async (page) => {
    const calls = await told(page)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.clock.install()
    await page.locator(FIELD).tap()
    await page.getByRole('button', { name: 'It did not light' }).tap()
    await page.getByText('Stay where you are').waitFor()
    await sound(page)
    assert.ok(await page.getByRole('button', { name: 'Ready again' }).isDisabled())
    await page.clock.runFor(61_000)
    await page.getByText('Now you may walk up').waitFor()
    await page.getByRole('button', { name: 'Ready again' }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    // Whoever leaves is told how long to stay away, and comes back to the same wait.
    await page.locator(FIELD).tap()
    await page.getByRole('button', { name: 'It did not light' }).tap()
    await page.clock.runFor(20_000)
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    const wait = page.getByRole('button', { name: /Stay away from the pad: \d+ s/ })
    await wait.waitFor()
    await sound(page)
    await page.clock.runFor(10_000)
    const left_s = Number(/(\d+) s/.exec(await wait.innerText())[1])
    assert.ok(left_s > 20 && left_s <= 31, `${left_s} s`)
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Stay where you are').waitFor()
    await page.clock.runFor(31_000)
    await page.getByText('Now you may walk up').waitFor()
    await page.goBack()
    await page.getByRole('button', { name: /Now you may walk up/ }).tap()
    await page.getByRole('button', { name: 'Ready again' }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    assert.deepEqual(calls, [])
  })

  await check('killed in the air and opened again it goes on, and can have landed', SENSING, async (page) => {
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.locator(FIELD).tap()
    await page.waitForTimeout(1200)
    await page.reload()
    await page.getByText(/went on for \d+ s without this screen/).waitFor()
    await sound(page)
    const landed = page.getByRole('button', { name: 'I saw it land' })
    await landed.tap()
    await page.getByText('Feet still').waitFor()
    // A slip is mended by Back, on the screen and on the phone, and the flight goes on.
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    await landed.tap()
    await page.getByText('Feet still').waitFor()
    await page.goBack()
    await landed.tap()
    await page.getByRole('button', { name: /How many pieces/ }).tap()
    await page.getByRole('radio', { name: 'several: I followed the heavy one' }).check({ force: true })
    await page.getByRole('button', { name: /What it did/ }).tap()
    assert.ok(await page.getByRole('radio', { name: /came apart/ }).isChecked())
    await sound(page)
    if (!site.isReal) return
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    assert.ok((await page.getByRole('group', { name: 'Part', exact: true }).getByRole('radio').count()) > 1)
    // Its answer stands: Fly begins another.
    await page.getByRole('button', { name: 'Flights' }).tap()
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
  })

  await check('a false touch is taken back, at once and out of the list of flights', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(80, 40)
    const listed = async () => (site.isReal ? (await ask(page, 'list_flights', {})).map((it) => it.id) : [])
    const before = await listed()
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await page.waitForTimeout(1500)
    const begun = site.isReal ? page.waitForResponse('**/api/append_track') : null
    await counted(page).hold(page.locator(FIELD), 1.6)
    await begun
    await page.getByRole('button', { name: 'It did not fly' }).tap()
    await page.getByText('It did not fly?').waitFor()
    await sound(page)
    const back = site.isReal ? page.waitForResponse('**/api/take_back_flight') : null
    await page.getByRole('button', { name: 'That was nothing' }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await back
    assert.deepEqual(await listed(), before)
    await page.getByRole('button', { name: 'Back', exact: true }).tap()
    await page.locator('[data-flight]').first().waitFor()
  })

  const pocketed = 'logged later from the pocket: rocket, when, what it did and where it lay in five taps'
  if (site.isReal && (!wanted || wanted.test(pocketed))) {
    const at = await openClean()
    try {
      await check(pocketed, SENSING, async (page) => {
        for (const name of ['Linnet', 'Wheatear']) await ask(page, 'keep_rocket', { told: { name, stages: [{ motor: 'C6-5' }] } })
        await page.reload()
        const taps = counted(page)
        await taps.tap(page.getByRole('button', { name: 'It flew already' }))
        await page.getByRole('radio', { name: 'Wheatear' }).waitFor()
        await sound(page)
        await taps.tap(page.getByRole('radio', { name: 'Wheatear' }))
        await taps.tap(page.getByRole('radio', { name: 'half an hour' }))
        await sound(page)
        await taps.tap(page.getByRole('radio', { name: 'opened as planned' }))
        await page.getByText('tap on the map where it lay').waitFor()
        await page.waitForTimeout(700) // the map draws on its own frames
        await sound(page)
        const box = await page.locator('.sheet').boundingBox()
        taps.count++
        await page.touchscreen.tap(box.x + box.width / 2 + 40, box.y + box.height / 2 - 30)
        await page.getByText('Found, all of it').waitFor({ timeout: 30_000 })
        assert.equal(taps.count, 5)
        console.log(`        taps: ${taps.count}`)
        const [{ id }] = await ask(page, 'list_flights', {})
        const flight = await ask(page, 'show_flight', { id })
        assert.equal(flight.rocket.name, 'Wheatear')
        assert.equal(flight.launch.timed_by, 'recalled')
        assert.deepEqual(flight.evidence.map((it) => it.kind).toSorted(), ['find', 'saw'])
        const [row] = await ask(page, 'list_log', {})
        assert.equal(row.how, 'opened')
      }, { at })
    } finally {
      at.close()
    }
  }

  const own = 'a rocket of one’s own flies with no field entered, from Fly and from Today'
  if (site.isReal && (!wanted || wanted.test(own))) {
    const at = await openClean()
    try {
      await check(own, SENSING, async (page) => {
        await ask(page, 'keep_rocket', { told: { name: 'Linnet', stages: [{ motor: 'C6-5' }] } })
        await page.reload()
        await page.getByRole('button', { name: /^Fly/ }).tap()
        await page.getByRole('heading', { name: 'Linnet' }).waitFor()
        await page.getByRole('button', { name: 'All done: to the pad' }).tap()
        await page.locator('[data-pad="here"]').waitFor()
        await page.getByRole('button', { name: 'Back', exact: true }).tap()
        await page.locator('[data-calm="today"]').tap()
        await page.getByRole('checkbox', { name: 'Linnet' }).check({ force: true })
        await page.getByRole('button', { name: 'Fly it' }).tap()
        await page.getByRole('button', { name: 'All done: to the pad' }).tap()
        await page.getByRole('heading', { name: 'Linnet' }).waitFor()
        await sound(page)
      }, { at })
    } finally {
      at.close()
    }
  }

  await check('the screen off and on again in the air: it says how long, and is kept lit anew', SENSING, async (page) => {
    await page.addInitScript(() => {
      window.locks = 0
      navigator.wakeLock.request = () => Promise.resolve({ release: () => Promise.resolve(), number: window.locks++ })
      let seen = 'visible'
      Object.defineProperty(document, 'visibilityState', { get: () => seen })
      window.turn = (to) => {
        seen = to
        document.dispatchEvent(new Event('visibilitychange'))
      }
    })
    await page.reload()
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await counted(page).hold(page.locator(FIELD), 0, async () => {
      await page.getByText('I see it').waitFor()
      await page.waitForTimeout(700)
      assert.equal(await page.evaluate(() => window.locks), 1)
      await page.evaluate(() => window.turn('hidden'))
      await page.waitForTimeout(2100)
      await page.evaluate(() => window.turn('visible'))
      await page.getByText('went on for 2 s without this screen').waitFor()
      await page.getByText('I see it').waitFor({ state: 'detached' }) // what is held now is another look
      assert.equal(await page.evaluate(() => window.locks), 2)
      await sound(page)
    })
    await page.locator('header.clock').waitFor()
  })

  await check('at night with everything refused, place, microphone and compass: it is followed and answered all the same', { ...PHONE, colorScheme: 'dark' }, async (page) => {
    await page.addInitScript(() => {
      navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('no', 'NotAllowedError'))
    })
    await page.reload()
    await page.getByRole('button', { name: /^Fly/ }).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await page.getByRole('button', { name: 'Listen for the ignition' }).tap()
    await page.getByText('The microphone cannot be used').waitFor()
    await sound(page)
    await counted(page).hold(page.locator(FIELD), 0.8)
    await page.getByText('Where did it go?').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Too far to see' }).tap()
    await page.getByText('Feet still').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
  })

  await check('back leads out of a screen, and never out of a flight in the air', SENSING, async (page) => {
    const fly = page.getByRole('button', { name: /^Fly/ })
    await fly.tap()
    await page.getByText('Touch at lift-off').waitFor()
    await page.goBack()
    await fly.tap()
    await page.locator(FIELD).tap()
    const inAir = page.locator('header.clock')
    await inAir.waitFor()
    for (const press of ['first', 'second']) {
      await page.goBack()
      await page.waitForTimeout(300)
      assert.ok(await inAir.isVisible(), `the ${press} press led out`)
    }
    await page.reload() // as after a kill
    await page.getByText(/went on for \d+ s without this screen/).waitFor()
    await page.goBack()
    await page.waitForTimeout(300)
    assert.ok(await inAir.isVisible())
  })

  await check('without a finger: the same flight by keyboard', { ...DESKTOP, permissions: ['geolocation'], geolocation: SENSING.geolocation }, async (page) => {
    await page.getByRole('button', { name: /^Fly/ }).press('Enter')
    const field = page.locator(FIELD)
    await page.waitForTimeout(500)
    await field.press('Enter')
    await page.getByText('I see it').waitFor()
    await page.waitForTimeout(900)
    await field.press('Enter')
    await page.getByText('Where did it go?').waitFor()
    await page.getByRole('button', { name: 'Too far to see' }).press('Enter')
    await sound(page)
    await page.getByRole('button', { name: 'Where may it be?' }).press('Enter')
    await answered(page)
  })

  await check('fly, walk and find in Spanish', { ...SENSING, locale: 'es-ES' }, async (page) => {
    await page.getByRole('button', { name: /^Volar/ }).tap()
    await page.getByText('Toque al despegar').waitFor()
    await sound(page)
    await page.locator(FIELD).tap()
    await page.getByText('Mantenga mientras lo vea').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'No encendió' }).tap()
    await sound(page)
    await page.reload()
    await page.locator(`[data-flight="${await tellAnew(page, 'heron-lost')}"]`).tap()
    await answered(page)
    await page.getByRole('button', { name: 'Ir allí' }).tap()
    await page.locator('[data-walk-distance], .stop, .way h2').first().waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Volver' }).tap()
    await page.getByRole('button', { name: 'Lo encontré' }).tap()
    await sound(page)
    await page.getByRole('button', { name: 'Solo esta: ' }).first().tap()
    await sound(page)
  })

  await check('held sideways it all fits: followed, asked, answered and walked to', { ...SENSING, viewport: { width: 844, height: 390 } }, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(80, 40)
    /** What is touched now is whole and in sight. */
    const inSight = async (...locators) => {
      await sound(page)
      for (const locator of locators) {
        const { x, y, width, height } = await locator.boundingBox()
        assert.ok(x >= 0 && y >= 0 && x + width <= 844 && y + height <= 390, `${await locator.innerText()}: ${x} ${y} ${width} ${height}`)
      }
    }
    const button = (name) => page.getByRole('button', { name, exact: name === 'Chute out' })
    const field = page.locator(FIELD)
    await button(/^Fly/).tap()
    await page.getByText('Touch at lift-off').waitFor()
    await inSight(field)
    assert.ok((await field.boundingBox()).height > 90)
    await page.waitForTimeout(1500) // as on the pad: the rocket is chosen and its opening computed
    await field.press('Enter')
    await page.getByText('I see it').waitFor()
    await shoot(page, 'sideways-followed')
    await inSight(field, button('Chute out'))
    assert.ok((await field.boundingBox()).height > 90)
    await page.waitForTimeout(900)
    await field.press('Enter')
    await button('I saw it land').waitFor()
    await shoot(page, 'sideways-gone')
    await inSight(field, button('I saw it land'), button('It went behind something'), button('Too far to see'))
    await button('Too far to see').tap()
    await page.getByText('Feet still').waitFor()
    await shoot(page, 'sideways-feet')
    await inSight(button('Where may it be?'), button('Point where you last saw it'))
    await button('Where may it be?').tap()
    await answered(page)
    const walk = button('Walk there')
    await walk.waitFor({ timeout: 60_000 })
    await shoot(page, 'sideways-answer')
    await inSight(walk, button('Found it'))
    await walk.tap()
    await page.locator('[data-walk-distance], .stop, .way h2').first().waitFor()
    await page.waitForTimeout(400)
    await shoot(page, 'sideways-walk')
    await inSight(button('Found it'))
    if (await page.locator('[data-walk-distance]').isVisible()) await inSight(page.locator('[data-walk-distance]'))
  })
}
