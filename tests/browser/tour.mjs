// Every screen and state, one after another, in whichever words the screen has: for pictures, and for what all screens owe.
import { answered, ask, lostOne, tellAnew, withCompass } from './site.mjs'

/** Text as it stands on the screen. */
const asItIs = (words) => words

/**
 * The words of the stretched catalogue: every run of letters is followed by the first four tenths of itself, as
 * `lib/words` does it.
 */
export const long = (words) => words.replace(/\p{L}+/gu, (run) => run + [...run].slice(0, Math.ceil([...run].length * 0.4)).join(''))

/** Goes through everything and calls `visit` with the name of each state. `site` must be the real core. */
export async function tour(page, context, site, visit, words = asItIs) {
  const button = (name) => page.getByRole('button', { name: words(name) })
  const radio = (name) => page.getByRole('radio', { name: words(name), exact: true })
  const seen = (text) => page.getByText(words(text)).first().waitFor()
  const choose = async (id) => {
    await page.locator(`[data-flight="${id}"]`).click()
    await answered(page)
  }
  const back = async () => {
    await page.goto('about:blank')
    await page.goto(site.address)
    await page.locator('[data-flight]').first().waitFor()
  }
  await page.addInitScript(() => {
    const battery = Object.assign(new EventTarget(), { level: 0.6, charging: false })
    navigator.getBattery = () => Promise.resolve(battery)
    window.drain = (level) => {
      battery.level = level
      battery.dispatchEvent(new Event('levelchange'))
    }
  })
  const point = await withCompass(page, context, site.address)
  await point(60, -90)
  await page.locator('[data-flight]').first().waitFor()
  await visit('flights')

  // I just lost one: each question open.
  await button('I just lost one').click()
  await seen('Where did you last see it?')
  await visit('lost-seen')
  for (const [name, step] of [
    ['ago', 'How long ago did it go up?'],
    ['pad', 'Where was the pad?'],
    ['motor', 'Which motor?'],
    ['device', 'What does it come down on?'],
    ['wind', 'The wind, if you felt it'],
  ]) {
    await page.getByRole('button', { name: words(step) }).click()
    await visit(`lost-${name}`)
  }
  await button('Where may it be?').click()
  await answered(page)
  await visit('lost-answer')

  // Fly.
  await back()
  await page.getByRole('button', { name: words('Fly') }).first().click()
  await seen('Touch at lift-off')
  await visit('fly-ready')
  await button('Change').click()
  await visit('fly-rockets')
  await page.getByRole('radio', { name: '1/2A', exact: true }).click({ force: true }) // letters are letters in every language
  await page.waitForTimeout(1500) // its opening is computed
  await page.locator('button.hold').click()
  await seen('Hold while you see it')
  await visit('fly-air')
  await seen('Is the chute out?')
  await visit('fly-asked')
  await seen('HEADS UP')
  await visit('fly-heads-up')
  await button('It did not light').click()
  await visit('fly-unlit')
  await button('Back').click()
  await visit('flights-unlit')
  await back()
  await page.getByRole('button', { name: words('Fly') }).first().click()
  await seen('Touch at lift-off')
  await button('Change').click()
  await page.getByRole('radio', { name: 'C', exact: true }).click({ force: true })
  await point(60, 30)
  // By the keyboard, which holds on every size of screen.
  await page.locator('button.hold').press('Enter')
  await page.waitForTimeout(4500) // the cloud of the core goes along
  await page.locator('button.hold').press('Enter')
  await button('Too far to see').click()
  await visit('fly-after')
  let release = () => undefined
  const held = new Promise((done) => (release = done))
  await page.route('**/api/add_evidence', (route) => held.then(() => route.continue()))
  await button('Where may it be?').click()
  await page.locator('.side .busy:not(:empty)').waitFor()
  await visit('answer-awaited')
  release()
  await page.locator('.side .busy:not(:empty)').waitFor({ state: 'detached', timeout: 60_000 })
  await answered(page)
  await point(60, -90)
  await page.unroute('**/api/add_evidence')
  await back()

  // An answer, somebody else's word, the walk.
  const heron = await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, air: { ...flight.air, temperature_c: 32 } }))
  await choose(heron)
  await visit('answer')
  await button('Someone else saw it').click()
  await visit('witness')
  await radio('from another place').check({ force: true })
  await page.waitForTimeout(400)
  await visit('witness-map')
  await back()
  await choose(heron)
  await button('Walk there').click()
  await page.locator('svg.arrow').waitFor()
  await visit('walk')
  const bearing = Number(/\d{3}/.exec(await page.locator('.which').innerText())[0])
  await button('See the line').click()
  await point(bearing - 6, 0)
  await page.locator('[data-band]').waitFor()
  await visit('line')
  await button('Got it: into the pocket').click()
  await visit('pocket')
  await button('Locked. Hold here to open.').press('Enter')
  await point(60, -90)
  await button('Wet hands: lock').click()
  await visit('locked')
  await button('Locked. Hold here to open.').press('Enter')
  await page.evaluate(() => window.drain(0.12))
  await page.locator('.hand').waitFor()
  await visit('walk-spare')
  for (let i = 0; i < 7; i++) {
    await context.setGeolocation({ latitude: 47.53 + i * 1e-7, longitude: 17.2876, accuracy: 5 })
    await page.waitForTimeout(120)
  }
  await page.locator('.stop').waitFor()
  await visit('stop')

  // Other people's land about the place: the way ends before it.
  await context.setGeolocation({ latitude: 47.5312, longitude: 17.2854, accuracy: 5 })
  await back()
  const { aim } = (await ask(page, 'locate_flight', { id: 'heron-lost' })).parts[0]
  const corners = [[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]].map(([e, n]) => [aim.lon + 0.0008 * e, aim.lat + 0.00054 * n])
  const orchard = { kind: 'private_land', name: 'Sloe Orchard', geometry: { type: 'Polygon', coordinates: [corners] } }
  await choose(await tellAnew(page, 'heron-lost', (flight) => ({ ...flight, field: { name: 'Sedge Meadow', hazards: [orchard] } })))
  const asked = page.waitForResponse('**/api/walk_to')
  await button('Walk there').click()
  const { approach } = await (await asked).json()
  for (let i = 0; i < 7; i++) {
    await context.setGeolocation({ latitude: approach.lat + i * 1e-7, longitude: approach.lon, accuracy: 5 })
    await page.waitForTimeout(120)
  }
  await page.locator('[data-stops]').waitFor()
  await visit('stop-point')

  // The find: all of it, the altimeter, and what had been said.
  await context.setGeolocation({ latitude: 47.531, longitude: 17.28382, accuracy: 5 })
  await back()
  const dunnock = await tellAnew(page, 'dunnock-streamer')
  await choose(dunnock)
  await button('Found it').click()
  await button('All of it').waitFor()
  await page.waitForTimeout(400)
  await visit('find')
  await button('All of it').click()
  await page.locator('[data-found]').waitFor()
  await page.waitForTimeout(600)
  await visit('found')
  await button('Done').click()
  await answered(page)
  await visit('answer-found')
  await back()
  await choose(await tellAnew(page, 'dunnock-streamer'))
  await button('Found it').click()
  await button('All of it').click()
  await page.locator('[data-found]').waitFor()
  await button('Altimeter').click()
  for (const digit of '2400') await page.getByRole('button', { name: digit, exact: true }).click()
  await button('Note it').click()
  await page.locator('.doubt').waitFor()
  await visit('altimeter-doubt')

  // Only part of it: an undeclared rocket, then one in halves, and the rest.
  await back()
  await choose(await lostOne(page))
  await button('Found it').click()
  await button('Only part of it').click()
  await visit('find-part')
  await back()
  await choose(await tellAnew(page, 'heron-lost'))
  await button('Found it').click()
  await visit('find-declared')
  await back()
  await choose(await tellAnew(page, 'fieldfare-came-apart', (flight) => ({ ...flight, evidence: flight.evidence.filter((it) => it.kind !== 'saw') })))
  await button('Found it').click()
  await page.getByRole('button', { name: new RegExp(`: ${words('lower')}$`) }).click()
  await page.locator('[data-rest]').waitFor()
  await page.locator('canvas[data-share]').waitFor()
  await visit('rest-before')
  await page.locator('canvas[data-share="1.00"]').waitFor()
  await visit('rest')
}

/** What stands on the buttons of the calm screens. */
const CALM_WORDS = {
  en: { rocket: 'New rocket', site: 'New field', fly: 'Fly it', show: 'Show someone', round: 'Pick-up walk', code: 'Show as a code', more: 'More map', wind: 'Tell it anew', all: 'All done: to the pad', landed: 'I saw it land', where: 'Where may it be?', walk: 'Walk there', check: 'Check now' },
  es: { rocket: 'Cohete nuevo', site: 'Campo nuevo', fly: 'Volarlo', show: 'Enseñar a alguien', round: 'Paseo de recogida', code: 'Mostrar como código', more: 'Más mapa', wind: 'Decirlo de nuevo', all: 'Todo listo: a la plataforma', landed: 'Lo vi aterrizar', where: '¿Dónde puede estar?', walk: 'Ir allí', check: 'Revisar ahora' },
}

/** Goes through the calm screens of a clean install in one language, with a day on it, and calls `visit` with each state. */
export async function calmTour(page, site, language, visit) {
  const words = CALM_WORDS[language]
  const button = (name) => page.getByRole('button', { name, exact: true }).first()
  const home = async () => {
    await page.goto('about:blank')
    await page.goto(site.address)
    await page.locator('[data-calm]').first().waitFor()
  }
  const unfold = async () => {
    const folded = page.locator('.asks button[aria-expanded="false"]')
    while ((await folded.count()) > 0) await folded.first().click()
  }
  const open = async (where, seen) => {
    await home()
    await page.locator(`[data-calm="${where}"]`).click()
    await page.locator(seen).first().waitFor()
    await page.waitForTimeout(500)
  }
  const pad = { lat: 47.5312, lon: 17.2846 }
  const meadow = (await ask(page, 'keep_site', { field: { name: 'Sedge Meadow', hazards: [] }, pad: { name: 'pad', ...pad, accuracy_m: 4 } })).id
  const rocket = (await ask(page, 'keep_rocket', { told: { name: 'Linnet', stages: [{ motor: 'C6-5', comes_down_on: 'parachute' }] } })).id
  await ask(page, 'note_repair', { rocket, repair: { note: 'fin cracked', done: false, rerigged: false } })
  await ask(page, 'keep_day', { plan: { site: meadow, load: [{ rocket }], wind_limit_mps: 5 } })
  for (const force of [2, 3]) await ask(page, 'tell_wind', { toward_deg: 90, force })
  await ask(page, 'take_weather', { text: 'height_m,speed_mps,from_deg,temperature_c,pressure_hpa,humidity_pct\n10,4,250,21,955,60\n300,7,260,,,\n' })
  for (const [day, north_deg] of [[3, 0.001], [4, 0.002], [5, 0.003]]) {
    await ask(page, 'tell_flight', {
      flight: {
        format: 'windfall-flight/1', title: `Linnet ${day}`, pad, wind: [{ speed_mps: day, from_deg: 180 }],
        rocket: { name: 'Linnet', stages: [{ motor: 'C6-5', recovery: { kind: 'parachute' } }] }, launch: { at: `2026-05-0${day}T10:00:00+02:00` },
        evidence: [{ kind: 'sighting', moment: 'lost', t_s: 41, bearing_deg: 5 }, { kind: 'find', part: 'rocket', at: { lat: pad.lat + north_deg, lon: pad.lon } }],
      },
    })
  }
  const { flight } = (await ask(page, 'ready_flights', {}))[0]
  const lost = (await ask(page, 'tell_flight', { flight })).id

  await home()
  await visit('first')
  await page.locator(`[data-flight="${lost}"]`).click()
  await answered(page)
  await visit('rough')
  const more = button(words.more)
  if (await more.isVisible()) {
    await more.click()
    await page.waitForTimeout(400)
    await visit('rough-map')
  }
  await open('today', '[data-load]')
  await visit('today')
  await unfold()
  await visit('today-asks')
  await button(words.wind).click()
  await visit('today-wind')
  await open('today', '[data-load]')
  await button(words.fly).click()
  await visit('check')
  await open('today', '[data-load]')
  await button(words.show).click()
  await page.waitForTimeout(2500)
  await visit('show')
  await open('today', '[data-open]')
  await button(words.round).click()
  await page.locator('[data-leg]').first().waitFor({ timeout: 30_000 })
  await visit('round')
  await open('rockets', '[data-rocket]')
  await visit('rockets')
  await page.locator('[data-rocket]').first().click()
  await page.waitForTimeout(300)
  await visit('rocket')
  await open('fields', '[data-site]')
  await visit('fields')
  await button(words.site).click()
  await page.waitForTimeout(500)
  await visit('field-new')
  await open('fields', '[data-site]')
  await page.locator('[data-site]').first().click()
  await page.waitForTimeout(500)
  await unfold()
  await visit('field')
  await open('past', '[data-past]')
  await page.waitForTimeout(800)
  await visit('past')
  await page.locator('[data-past]').first().click()
  await page.locator('[data-line]').first().waitFor()
  await visit('story')
  await open('safe', '[data-holds]')
  await unfold()
  await visit('safe')
  await button(words.check).click()
  await page.locator('[data-checked]').waitFor()
  await page.locator('[data-checked]').scrollIntoViewIfNeeded()
  await visit('safe-checked')
  await open('share', 'main h1')
  await visit('share')
  const code = button(words.code)
  if (await code.isVisible()) {
    await code.click()
    await page.waitForTimeout(500)
    await visit('share-code')
  }
  await open('practice', 'main')
  await visit('practice')
  await open('units', 'main h1')
  await visit('units')

  // A flight, as loaded: nobody says that it is out.
  await open('today', '[data-load]')
  await button(words.fly).click()
  await button(words.all).click()
  const hold = page.locator('button.hold')
  await hold.waitFor()
  await page.waitForTimeout(1200)
  await visit('fly-ready')
  await hold.press('Enter')
  await page.waitForTimeout(1000)
  await visit('fly-seen')
  await page.locator('[data-asking]').waitFor({ timeout: 30_000 })
  await visit('fly-out')
  await page.locator('.call').waitFor({ timeout: 30_000 })
  await visit('fly-call')
  await hold.press('Enter')
  await button(words.landed).waitFor()
  await visit('fly-gone')
  await button(words.landed).click()
  await button(words.where).waitFor()
  await visit('fly-feet')
  await button(words.where).click()
  await answered(page)
  await visit('fly-answer')
  await button(words.walk).click()
  await page.locator('[data-walk-distance], .stop').first().waitFor()
  await visit('walk')
}
