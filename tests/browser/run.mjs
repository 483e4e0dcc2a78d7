// The screens in real Chromium. With WINDFALL_BIN set, against `windfall serve` on the sample field day;
// else against a build with invented answers. The last line is `N passed, N failed`.
import assert from 'node:assert/strict'
import { calm } from './calm.mjs'
import { day } from './day.mjs'
import { flights } from './fly.mjs'
import { learnedOnes } from './learned.mjs'
import { lostOnes } from './lost.mjs'
import { recoveries } from './recover.mjs'
import { rests } from './rest.mjs'
import { safes } from './safe.mjs'
import { answered, axeSource, DESKTOP, openBrowser, openSite, PHONE, SENSING } from './site.mjs'
import { stories } from './stories.mjs'
import { spanish } from './spanish.mjs'
import { long, tour } from './tour.mjs'
import { witnesses } from './witness.mjs'

const site = await openSite()
const browser = await openBrowser()
console.log(`browser tests against ${site.kind}`)

/** While one flow is being worked on: WINDFALL_ONLY=regex runs the cases whose sentence it fits. */
const only = process.env.WINDFALL_ONLY ? new RegExp(process.env.WINDFALL_ONLY) : null

let passed = 0
let failed = 0

/** One case on a fresh page. An error of the page, or a call to anywhere but the site, fails it. */
async function check(sentence, options, body, { mayLog = false, at = site } = {}) {
  if (only && !only.test(sentence)) return
  const context = await browser.newContext(options)
  const page = await context.newPage()
  const wrong = []
  page.on('pageerror', (error) => wrong.push(`the page threw ${error.message}`))
  page.on('console', (line) => {
    if (line.type() === 'error' && !mayLog) wrong.push(`the page logged ${line.text()}`)
  })
  page.on('request', (request) => {
    const { origin, protocol } = new URL(request.url())
    if (origin !== new URL(at.address).origin && !['data:', 'blob:'].includes(protocol)) {
      wrong.push(`the page called ${request.url()}`)
    }
  })
  try {
    await page.goto(at.address)
    await body(page, context)
    assert.deepEqual(wrong, [])
    passed++
    console.log(`ok      ${sentence}`)
  } catch (error) {
    failed++
    console.log(`FAILED  ${sentence}\n        ${String(error.message).split('\n').slice(0, 12).join('\n        ')}`)
  } finally {
    await context.close()
  }
}

const flightsOf = async (page) => {
  await page.locator('[data-flight]').first().waitFor()
  return page.locator('[data-flight]').evaluateAll((all) => all.map((it) => it.dataset.flight))
}
const choose = async (page, flight) => {
  await page.locator(`[data-flight="${flight}"]`).click()
  await answered(page)
}
/** The first that flew: the list has the latest first. */
const chooseFirst = async (page) => choose(page, (await flightsOf(page)).at(-1))
const drawn = (page, layer) => page.locator(`[data-drawn-${layer}]`).getAttribute(`data-drawn-${layer}`).then(Number)
const isDrawn = (page, layer) =>
  page.waitForFunction((name) => Number(document.querySelector(`[data-drawn-${name}]`)?.getAttribute(`data-drawn-${name}`)) > 0, layer)
const figure = (page, name) => page.locator(`[data-figure="${name}"]`).first().innerText()
const tags = (page, title) => page.getByRole('group', { name: title }).getByRole('radio')

/** How many different colours the map shows: a blank sheet has a handful. */
const coloursOfMap = (page) =>
  page.evaluate(() => {
    const seen = new Set()
    for (const canvas of document.querySelectorAll('.sheet canvas')) {
      const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height)
      for (let i = 0; i < data.length; i += 4 * 37) seen.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2])
    }
    return seen.size
  })

/** What every screen owes: nothing for axe to find, touch targets, no word of the core, nothing wider than the phone. */
async function sound(page, least = 48) {
  assert.deepEqual(await violations(page), [])
  // In one look: what is on its way out is not waited for.
  const small = await page.evaluate(
    (least) =>
      [...document.querySelectorAll('button, label')]
        .filter((it) => it.checkVisibility({ visibilityProperty: true }))
        .map((it) => [it, it.getBoundingClientRect()])
        .filter(([, { width, height }]) => width > 0 && height > 0 && Math.min(width, height) < least - 0.01)
        .map(([it, { width, height }]) => `${it.innerText || it.ariaLabel}: ${width} x ${height}`),
    least,
  )
  assert.deepEqual(small, [], `smaller than ${least} px to touch`)
  const words = await page.evaluate(() => document.body.innerText)
  assert.doesNotMatch(words, /\b(posterior|prior|cloud|evidence|belief|mode|section|sweep|leg|ESS|Monte Carlo)\b/i)
  const wide = () => page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth)
  assert.ok((await wide()) <= 0, `${await wide()} px wider than the screen`)
  // WCAG 2.2, 1.4.4: text at twice its size loses nothing to the side.
  const twice = await page.addStyleTag({ content: 'html { font-size: 200% !important }' })
  const over = await page.evaluate(() =>
    [...document.querySelectorAll('main :is(h1, h2, p, button, label, legend, span)')]
      .filter((it) => it.checkVisibility() && it.getBoundingClientRect().width > 1 && (it.getBoundingClientRect().right > window.innerWidth + 1 || it.getBoundingClientRect().left < -1))
      .map((it) => `${it.tagName} "${it.textContent.trim().slice(0, 40)}"`),
  )
  await twice.evaluate((it) => it.remove())
  assert.deepEqual(over, [], 'at twice the size these stand beyond the screen')
}

async function violations(page) {
  await page.evaluate(axeSource)
  const found = await page.evaluate(() => window.axe.run(document).then((result) => result.violations))
  return found.map((it) => `${it.id}: ${it.nodes.map((node) => node.target.join(' ')).join(', ')}`)
}

await check('it opens with the flights to choose from, the latest first', PHONE, async (page) => {
  assert.ok((await flightsOf(page)).length >= (site.isReal ? 8 : 3))
  const times = await page.locator('[data-flight] .when').allInnerTexts()
  const timed = times.filter((it) => /^\d{4}-/.test(it))
  assert.ok(timed.length >= 2)
  assert.deepEqual(timed, timed.toSorted().toReversed())
  assert.deepEqual(await violations(page), [])
})

await check('every flight has an answer with a distance, two regions and a picture', PHONE, async (page) => {
  for (const flight of await flightsOf(page)) {
    await choose(page, flight)
    assert.match(await figure(page, 'distance'), /\d+(\.\d+)?\s*k?m\b/, flight)
    assert.match(await figure(page, 'bearing'), /\d{3}°\s*magnetic$/, flight)
    assert.match(await figure(page, 'walk'), /\d+\s*min/, flight)
    assert.equal(await drawn(page, 'regions'), 2, flight)
    await isDrawn(page, 'density')
    assert.ok((await drawn(page, 'marks')) >= 2, flight)
    await page.getByRole('button', { name: 'Flights' }).click()
  }
})

await check('cautions stand above the answer and stay in sight when it scrolls', PHONE, async (page) => {
  await chooseFirst(page)
  const cautions = page.getByRole('region', { name: 'Before you walk' })
  await page.locator('.paper').evaluate((it) => it.scrollTo({ top: it.scrollHeight }))
  await cautions.waitFor()
  assert.ok((await cautions.innerText()).trim().length > 20)
  const box = await cautions.boundingBox()
  assert.ok(box.y >= 0 && box.y + box.height < 844)
})

await check('the map shows the wash and the lines in its pixels', DESKTOP, async (page) => {
  await chooseFirst(page)
  await isDrawn(page, 'density')
  await page.waitForTimeout(500)
  assert.ok((await coloursOfMap(page)) > 40)
})

await check('another part has its own answer', PHONE, async (page) => {
  for (const flight of await flightsOf(page)) {
    await choose(page, flight)
    if ((await tags(page, 'Part').count()) > 1) {
      const before = await page.locator('.place').innerText()
      const isFirst = await tags(page, 'Part').first().isChecked()
      await tags(page, 'Part').nth(isFirst ? 1 : 0).check()
      await isDrawn(page, 'density')
      assert.equal(await drawn(page, 'regions'), 2)
      // Parts that most likely came down together share a place; those of some flight did not.
      if ((await page.locator('.place').innerText()) !== before) return
    }
    await page.getByRole('button', { name: 'Flights' }).click()
  }
  assert.fail('no flight has two parts in two places')
})

await check('each way it came down has its chance, its place and its picture', PHONE, async (page) => {
  await chooseFirst(page)
  const modes = tags(page, 'How it came down')
  const fold = page.getByRole('button', { name: /ways of little chance/ })
  if ((await fold.count()) > 0) await fold.click()
  const count = await modes.count()
  assert.ok(count >= 3)
  for (let i = 1; i < count; i++) {
    await modes.nth(i).check()
    assert.ok(await modes.nth(i).isChecked())
    assert.equal(await drawn(page, 'regions'), 2)
  }
  await modes.nth(1).check()
  await isDrawn(page, 'density')
  const words = await page.locator('.words').allInnerTexts()
  assert.match(words.join('\n'), /\d+ of 10/)
})

await check('ways of little chance wait behind a fold', PHONE, async (page) => {
  for (const flight of await flightsOf(page)) {
    await choose(page, flight)
    const fold = page.getByRole('button', { name: /ways of little chance/ })
    if ((await fold.count()) > 0) {
      const modes = tags(page, 'How it came down')
      const before = await modes.count()
      const folded = Number(/\d+/.exec(await fold.innerText())[0])
      assert.ok(folded > 1)
      await fold.click()
      assert.equal(await modes.count(), before + folded)
      await modes.nth(before).check()
      await fold.click()
      assert.equal(await modes.count(), before + 1)
      assert.ok(await modes.nth(before).isChecked())
      return
    }
    await page.getByRole('button', { name: 'Flights' }).click()
  }
  assert.fail('no flight has two ways of little chance')
})

await check('imperial is said in feet or miles, and kept', PHONE, async (page) => {
  await chooseFirst(page)
  await page.getByRole('button', { name: 'Metric units' }).click()
  assert.match(await figure(page, 'distance'), /\d\s*(ft|mi)\b/)
  // The map redraws its scale on a frame of its own.
  await page.locator('.ol-scale-line', { hasText: /ft|mi/ }).waitFor()
  await page.reload()
  await chooseFirst(page)
  assert.match(await figure(page, 'distance'), /\d\s*(ft|mi)\b/)
})

await check('it follows the look of the system and can be switched', { ...PHONE, colorScheme: 'dark' }, async (page) => {
  await chooseFirst(page)
  const look = () => page.evaluate(() => [document.documentElement.dataset.look, getComputedStyle(document.body).backgroundColor])
  const [dark, darkGround] = await look()
  assert.equal(dark, 'dark')
  await page.getByRole('button', { name: 'Dark screen' }).click()
  const [light, lightGround] = await look()
  assert.equal(light, 'light')
  assert.notEqual(lightGround, darkGround)
})

for (const [device, options] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
  for (const colorScheme of ['light', 'dark']) {
    await check(`axe finds nothing on a ${device} in ${colorScheme}`, { ...options, colorScheme }, async (page) => {
      await chooseFirst(page)
      assert.deepEqual(await violations(page), [])
      await tags(page, 'How it came down').nth(1).check()
      assert.deepEqual(await violations(page), [])
    })
  }
}

await check('everything to touch is at least 48 by 48 and inside the screen', PHONE, async (page) => {
  await chooseFirst(page)
  for (const control of await page.locator('button:visible, label:visible').all()) {
    await control.scrollIntoViewIfNeeded()
    const box = await control.boundingBox()
    const name = await control.innerText()
    assert.ok(box.width >= 48 && box.height >= 48, `${name || (await control.getAttribute('aria-label'))}: ${box.width} x ${box.height}`)
    assert.ok(box.x >= 0 && box.x + box.width <= 390, name)
  }
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), 390)
})

const standing = (page) =>
  page.evaluate(() => document.querySelector('.place').textContent.split(',').map(Number))

await check(
  'from where I stand: distance and bearing start at the phone',
  { ...PHONE, permissions: ['geolocation'] },
  async (page, context) => {
    await chooseFirst(page)
    const before = await figure(page, 'distance')
    assert.match(before, /from the pad/)
    const [lat, lon] = await standing(page)
    // Half a kilometre south of the aim: 0.0045 degrees of latitude are 500 m to 2 m anywhere on the ellipsoid.
    await context.setGeolocation({ latitude: lat - 0.0045, longitude: lon, accuracy: 4 })
    await page.getByRole('button', { name: 'From where I stand' }).click()
    await page.getByText('from where you stand').waitFor()
    const after = await figure(page, 'distance')
    if (site.isReal) {
      assert.match(after, /\b(49[0-9]|50[0-9]|0\.5)\s*k?m/)
      // Due north by the map, less 5.4 degrees east in western Hungary in 2026 (WMM2025, from memory).
      assert.match(await figure(page, 'bearing'), /35[3-6]°\s*magnetic/)
    } else assert.notEqual(after, before)
    await page.getByRole('button', { name: 'From the pad' }).click()
    await page.getByText('from the pad', { exact: true }).waitFor()
    assert.equal(await figure(page, 'distance'), before)
  },
)

await check('a phone that will not tell where it is gets a sentence, and the answer stays', PHONE, async (page) => {
  await chooseFirst(page)
  await page.getByRole('button', { name: 'From where I stand' }).click()
  await page.getByRole('alert').waitFor()
  assert.match(await figure(page, 'distance'), /from the pad/)
})

/** A computer whose browser knows of no place, and what its gpsd says through the core. */
const withGpsd = async (page, reply) => {
  await page.addInitScript(() => Object.defineProperty(navigator, 'geolocation', { value: undefined }))
  await page.route('**/api/position', (route) => route.fulfill(reply))
  await page.reload()
  await chooseFirst(page)
}

await check('where the browser knows no place the receiver of the computer is asked', DESKTOP, async (page) => {
  if (!site.isReal) return
  await withGpsd(page, { json: { lat: 47.53, lon: 17.285, accuracy_m: 4, course_deg: null, speed_mps: 0 } })
  await page.getByRole('button', { name: 'From where I stand' }).click()
  await page.getByText('from where you stand').waitFor()
})

await check(
  'and where there is none it says what to do',
  DESKTOP,
  async (page) => {
    if (!site.isReal) return
    await withGpsd(page, { status: 404, json: { code: 'not_found', message: 'no gpsd answers' } })
    await page.getByRole('button', { name: 'From where I stand' }).click()
    await page.getByText('start gpsd').waitFor()
    assert.match(await figure(page, 'distance'), /from the pad/)
  },
  { mayLog: true }, // Chromium logs the refused call
)

await check(
  'once loaded it goes on with the network gone',
  PHONE,
  async (page, context) => {
    await chooseFirst(page)
    await isDrawn(page, 'density')
    await context.setOffline(true)
    await tags(page, 'How it came down').nth(1).check()
    assert.equal(await drawn(page, 'regions'), 2)
    await tags(page, 'How it came down').nth(0).check()
    await isDrawn(page, 'density')
    await page.getByRole('button', { name: 'Metric units' }).click()
    assert.match(await figure(page, 'distance'), /\d\s*(ft|mi)\b/)
    await page.getByRole('button', { name: 'More map' }).click()
    await page.getByRole('button', { name: 'Whole picture' }).click()
  },
  { mayLog: true }, // Chromium logs each call that the missing network refused
)

await check('the sheet moves under a finger and under the arrow keys', DESKTOP, async (page) => {
  await chooseFirst(page)
  await isDrawn(page, 'density')
  await page.waitForTimeout(400)
  const sight = () => page.locator('.sheet').screenshot().then((it) => it.toString('base64'))
  const before = await sight()
  await page.mouse.move(400, 400)
  await page.mouse.down()
  await page.mouse.move(300, 330, { steps: 5 })
  await page.mouse.up()
  await page.waitForTimeout(700)
  const dragged = await sight()
  assert.notEqual(dragged, before)
  await page.locator('.sheet').focus()
  await page.keyboard.press('ArrowLeft')
  await page.waitForTimeout(700)
  assert.notEqual(await sight(), dragged)
})

await lostOnes({ check, site, sound, wanted: only })
await flights({ check, site, sound, wanted: only })
await recoveries({ check, site, sound })
await calm({ check, site, sound, wanted: only })
await day({ check, site, sound, wanted: only })
await safes({ check, site, sound, wanted: only })
await learnedOnes({ check, site, sound, wanted: only })
await rests({ check, site, sound })
await witnesses({ check, site, sound })
await stories({ check, site, sound, wanted: only })
await spanish({ check, site, sound, wanted: only })

if (site.isReal) {
  for (const [device, options] of Object.entries({ phone: PHONE, desktop: DESKTOP })) {
    await check(
      `with words four tenths longer every screen has room, on a ${device}`,
      { ...SENSING, ...options, isMobile: device === 'phone' },
      async (page, context) => {
        await page.addInitScript(() => location.protocol === 'about:' || localStorage.setItem('windfall.settings', '{"language":"stretched"}'))
        const [been, wrong] = [[], []]
        await tour(
          page,
          context,
          site,
          async (name) => {
            been.push(name)
            try {
              await sound(page)
            } catch (error) {
              wrong.push(`${name}: ${error.message.replaceAll('\n', ' ')}`)
            }
          },
          long,
        )
        assert.deepEqual(wrong, [])
        assert.ok(been.length > 25, been.join(' '))
      },
    )
  }

  await check(
    'a call that breaks is said on the screen, and trying again works',
    PHONE,
    async (page) => {
      const flights = await flightsOf(page)
      await page.route('**/api/locate_flight', (route) =>
        route.fulfill({ status: 500, json: { code: 'panic', message: 'The estimate broke.' } }),
      )
      await page.locator(`[data-flight="${flights.at(-1)}"]`).click()
      await page.getByText('The estimate broke.').waitFor()
      assert.deepEqual(await violations(page), [])
      await page.unroute('**/api/locate_flight')
      await page.getByRole('button', { name: 'Try again' }).click()
      await answered(page)
    },
    { mayLog: true },
  )

  await check(
    'a wrong token is said on the screen',
    PHONE,
    async (page) => {
      await page.goto('about:blank')
      await page.goto(site.address.replace(/#token=.*/, '#token=wrong'))
      await page.getByRole('alert').waitFor()
    },
    { mayLog: true },
  )
}

await browser.close()
site.close()
console.log(`${passed} passed, ${failed} failed`)
process.exit(failed === 0 ? 0 : 1)
