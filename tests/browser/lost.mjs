// Somebody has just lost a rocket and opens the program for the first time.
import assert from 'node:assert/strict'
import { answered, ask, counted, DESKTOP, openClean, PHONE, SENSING, shoot, swipe, twiceTheText, withCompass } from './site.mjs'

const step = (page, name) => page.locator(`[data-step="${name}"]`)
const choice = (page, name) => page.getByRole('radio', { name, exact: true })

export async function lostOnes({ check, site, sound, wanted }) {
  await check('a rocket lost a minute ago has an answer in five taps, with no field or rocket entered', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(71, 12)
    const taps = counted(page)
    await taps.tap(page.getByRole('button', { name: 'I just lost one' }))
    await sound(page)
    await taps.hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
    await step(page, 'seen').getByText('071° magnetic').waitFor()
    await taps.tap(choice(page, '5 minutes'))
    await taps.tap(choice(page, 'C'))
    await taps.tap(choice(page, 'parachute'))
    await answered(page)
    assert.equal(taps.count, 5)
    if (site.isReal) {
      // The one thing that would shrink the area most is said, and can be added without telling anything twice.
      await page.locator('.help').getByText(/would help most/).waitFor()
      assert.match(await page.locator('.help').innerText(), /wind/)
    }
    await sound(page)
    console.log(`        taps: ${taps.count}`)
  })

  await check('the wind is asked before the last question brings the answer, and what would help most is told where it is said', SENSING, async (page, context) => {
    if (!site.isReal) return
    const point = await withCompass(page, context, site.address)
    await point(71, 12)
    const taps = counted(page)
    await taps.tap(page.getByRole('button', { name: 'I just lost one' }))
    await taps.hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
    await taps.tap(choice(page, '5 minutes'))
    await taps.tap(choice(page, 'C'))
    await sound(page)
    await taps.tap(choice(page, 'east'))
    await page.getByText('towards the east (a west wind)').first().waitFor()
    const told = page.waitForRequest('**/api/answer_flight')
    await taps.tap(choice(page, 'parachute'))
    assert.equal(taps.count, 6)
    const { flight } = (await told).postDataJSON()
    assert.deepEqual(flight.wind.map((it) => it.from_deg), [270])
    await answered(page)
    const missing = page.locator('[data-missing]')
    await missing.waitFor()
    const what = await missing.getAttribute('data-missing')
    await missing.tap()
    const form = page.locator('[data-missing-form]')
    await form.waitFor()
    await sound(page)
    const again = page.waitForRequest('**/api/answer_flight')
    if (what.startsWith('wind')) await form.getByRole('radio', { name: 'twigs and light flags' }).check({ force: true })
    else if (what.includes('motor') || what === 'printed_delay') await form.getByRole('textbox').fill('C6-5')
    else if (what === 'rod_lean') {
      await form.getByRole('textbox').fill('5')
      await form.getByRole('radio', { name: 'east', exact: true }).check({ force: true })
    } else await form.getByRole('textbox').fill(what === 'rocket_weight' ? '60' : '30')
    await form.getByRole('button', { name: 'That’s it' }).tap()
    await again
    await page.waitForFunction((before) => document.querySelector('[data-missing]')?.getAttribute('data-missing') !== before && !document.querySelector('[data-missing-form]'), what, { timeout: 60_000 })
    await sound(page)
    console.log(`        would help most: ${what}`)
  })

  await check('at twice the text size each question opens in sight, in its own place, and the answer scrolls, after a reload too', SENSING, async (page) => {
    await twiceTheText(page)
    await page.reload()
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    const paper = await page.locator('.paper').boundingBox()
    for (const name of ['ago', 'pad', 'motor', 'wind', 'device']) {
      await step(page, name).tap()
      // Beside what it comes down on the wind is asked, above it.
      const question = await step(page, name === 'device' ? 'wind' : name).boundingBox()
      assert.ok(question.y >= paper.y - 1 && question.y + question.height <= paper.y + paper.height + 1, `${name} at ${question.y} in ${JSON.stringify(paper)}`)
      await shoot(page, `lost-200-${name}`)
    }
    await step(page, 'motor').tap()
    await choice(page, 'G').tap()
    await step(page, 'device').tap()
    // Wind and device are asked at once: each under its own question.
    const stepOf = (name) => choice(page, name).evaluate((it) => it.closest('li').querySelector('[data-step]').dataset.step)
    await choice(page, 'parachute').waitFor()
    assert.deepEqual([await stepOf('south-east'), await stepOf('parachute')], ['wind', 'device'])
    await choice(page, 'south-east').tap()
    assert.match(await step(page, 'wind').innerText(), /south-east/)
    await choice(page, 'parachute').waitFor()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    const scrolls = async () => {
      const before = await page.evaluate(() => scrollY)
      for (const y of [780, 620]) await swipe(page, { x: 150, y }, -320)
      assert.ok((await page.evaluate(() => scrollY)) > before + 400, `from ${before} to ${await page.evaluate(() => scrollY)}`)
      await page.getByRole('button', { name: 'Found it' }).scrollIntoViewIfNeeded()
      await page.getByRole('button', { name: 'Found it' }).tap({ trial: true })
    }
    await scrolls()
    await shoot(page, 'answer-200')
    await page.reload()
    await page.locator('[data-flight]').first().tap()
    await answered(page)
    await scrolls()
  })

  const closed = 'a flight lost before the program was closed is open to every answer: the pad walked to, the rocket, the motor'
  if (site.isReal && (!wanted || wanted.test(closed))) {
    let at = await openClean()
    let id = null
    try {
      await check(`${closed}, told`, SENSING, async (page, context) => {
        await ask(page, 'keep_rocket', { told: { name: 'Linnet', stages: [{ motor: 'C6-5' }] } })
        await page.reload()
        const point = await withCompass(page, context, at.address)
        await point(71, 12)
        const taps = counted(page)
        await page.getByRole('button', { name: 'I just lost one' }).tap()
        await taps.hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
        // The next question opens by itself; before that, a tap on another would be overtaken.
        await step(page, 'seen').filter({ hasText: /071°/ }).waitFor()
        await step(page, 'pad').tap()
        await page.getByRole('button', { name: 'walk there later' }).tap()
        await page.getByRole('button', { name: 'Where may it be?' }).tap()
        await answered(page)
        id = (await ask(page, 'list_flights', {}))[0].id
      }, { at })
      // Core and screen begin anew; the logbook is what remains.
      at = await openClean(await at.leave())
      await check(closed, SENSING, async (page) => {
        await page.locator(`[data-flight="${id}"]`).tap()
        await answered(page)
        await sound(page)
        await page.getByRole('button', { name: 'I am at the pad now' }).tap()
        await page.getByText('Wait a little and it gets better').waitFor()
        await sound(page)
        await page.locator('.choices').getByRole('button', { name: 'I am at the pad now' }).tap()
        assert.match(await step(page, 'seen').innerText(), /071° magnetic/)
        await step(page, 'rocket').tap()
        await choice(page, 'Linnet').tap()
        if ((await step(page, 'ago').getAttribute('aria-expanded')) === 'false') await step(page, 'ago').tap()
        await choice(page, '5 minutes').tap()
        await sound(page)
        await page.getByRole('button', { name: 'Where may it be?' }).tap()
        await answered(page)
        const flight = await ask(page, 'show_flight', { id })
        assert.equal(flight.rocket.stages[0].motor, 'C6-5')
        assert.ok(flight.pad.accuracy_m < 10 && Math.abs(flight.pad.lon - 17.2854) < 1e-4, JSON.stringify(flight.pad))
        assert.equal(flight.evidence.length, 1)
        assert.equal(await page.getByRole('button', { name: 'I am at the pad now' }).count(), 0)
      }, { at })
    } finally {
      at.close()
    }
  }

  await check('Back wins over an answer that comes later, and the flight is in the list', SENSING, async (page, context) => {
    if (!site.isReal) return
    await withCompass(page, context, site.address)
    let release = () => undefined
    const held = new Promise((done) => (release = done))
    await page.route('**/api/answer_flight', async (route) => {
      const response = await route.fetch()
      await held
      await route.fulfill({ response })
    })
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await page.getByText('Working through').waitFor()
    await page.goBack()
    const list = page.locator('[data-flight]')
    await list.first().waitFor()
    release()
    await page.waitForTimeout(1500)
    assert.ok(await list.first().isVisible(), 'it was called to the answer')
    await page.locator('[data-flight]', { hasText: 'Lost one, told at' }).first().waitFor()
  })

  await check('what was told stays, and the wind added afterwards shrinks the area', SENSING, async (page, context) => {
    const point = await withCompass(page, context, site.address)
    await point(71, 12)
    const taps = counted(page)
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    await taps.hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    const area = async () => {
      const words = await page.locator('div.words').innerText()
      const [, number, unit] = /nine in ten within ([\d.\u202f]+)\u00a0(m²|ha)/.exec(words)
      return Number(number.replaceAll('\u202f', '')) * (unit === 'ha' ? 10_000 : 1)
    }
    const before = await area()
    await page.getByRole('button', { name: 'Add or correct' }).tap()
    assert.match(await step(page, 'seen').innerText(), /071° magnetic/)
    await step(page, 'motor').tap()
    await choice(page, 'A').tap()
    await step(page, 'wind').tap()
    await choice(page, 'east').tap()
    await choice(page, 'leaves, felt on the face').tap()
    await sound(page)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    if (site.isReal) {
      const after = await area()
      assert.ok(after < before / 2, `${before} then ${after} m²`)
    }
  })

  await check('a phone without a compass asks by the wind and by fists', SENSING, async (page) => {
    const taps = counted(page)
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    await taps.hold(page.getByRole('button', { name: 'Point where you last saw it' }), 2.4)
    await page.getByText('Looking straight downwind').waitFor()
    await choice(page, 'left').tap()
    await choice(page, '2 fists').tap()
    await sound(page)
    // What goes on from here is in sight, above what passes over all the rest.
    await page.waitForFunction(() => {
      const [paper, next] = ['.paper', '.eye .next'].map((it) => document.querySelector(it).getBoundingClientRect())
      return next.top >= paper.top && next.bottom <= paper.bottom + 1
    })
    await page.getByRole('button', { name: 'That’s it' }).tap()
    assert.match(await step(page, 'seen').innerText(), /left · 2 fists/)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
    if (site.isReal) {
      const told = await page.evaluate(() => document.body.innerText)
      assert.match(told, /Left or right of downwind is not used until/)
    }
    // Told by the wind it asks for the wind, and then uses it.
    await page.getByRole('button', { name: 'Add or correct' }).tap()
    for (const [name, answer] of [['ago', '5 minutes'], ['motor', 'C'], ['device', 'parachute']]) {
      if ((await step(page, name).getAttribute('aria-expanded')) === 'false') await step(page, name).tap()
      await choice(page, answer).tap()
    }
    await page.getByText('where does it blow?').waitFor()
    await choice(page, 'east').tap()
    await sound(page)
    await page.getByRole('button', { name: 'That’s it' }).tap()
    await answered(page)
    if (site.isReal) assert.doesNotMatch(await page.evaluate(() => document.body.innerText), /is not used until/)
  })

  await check('in line with a thing on the map, and the pad tapped there', SENSING, async (page) => {
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    await page.getByRole('button', { name: 'Without a compass' }).tap()
    await page.getByRole('button', { name: /in line with something/ }).tap()
    await page.getByText('Tap what it was in line with').waitFor()
    await page.waitForTimeout(600)
    await sound(page)
    await page.touchscreen.tap(250, 300)
    await page.getByText('In line with what you tapped').waitFor()
    await choice(page, 'on the far side of it').tap()
    await sound(page)
    await step(page, 'pad').tap()
    await page.getByRole('button', { name: 'tap it on the map' }).tap()
    await page.waitForTimeout(600)
    await page.touchscreen.tap(150, 420)
    await step(page, 'pad').getByText('tapped on the map').waitFor()
    assert.match(await step(page, 'seen').innerText(), /in line with the mark · on the far side of it/)
    const asked = page.waitForRequest('**/api/answer_flight').catch(() => null)
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    if (site.isReal) assert.equal((await asked).postDataJSON().flight.evidence[0].beyond, true)
    await answered(page)
  })

  await check('a phone that may not know where it is still gets an answer from the field of the day', PHONE, async (page) => {
    await page.getByRole('button', { name: 'I just lost one' }).tap()
    await step(page, 'pad').getByText('as in the last flight').waitFor()
    await page.getByRole('button', { name: 'Where may it be?' }).tap()
    await answered(page)
  })

  await check('without a finger: the two seconds by keyboard, and everything passed over', DESKTOP, async (page) => {
    await page.getByRole('button', { name: 'I just lost one' }).press('Enter')
    await page.getByRole('button', { name: 'Point where you last saw it' }).press('Enter')
    await page.getByText('Looking straight downwind').waitFor()
    await sound(page)
    await page.getByRole('button', { name: 'Where may it be?' }).press('Enter')
    await answered(page)
  })

  await check('in Spanish too', { ...SENSING, locale: 'es-ES' }, async (page) => {
    await page.getByRole('button', { name: 'Acabo de perder uno' }).tap()
    await page.getByText('¿Cuánto hace que despegó?').waitFor()
    await sound(page)
    await page.getByRole('button', { name: '¿Dónde puede estar?' }).tap()
    await answered(page)
    await page.getByText('Antes de caminar').waitFor()
  })
}
