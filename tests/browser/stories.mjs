// Whole stories, from the first screen to the end: a calm flight found whole, one that comes apart, one lost a minute ago by
// somebody who never saw the program. At phone and desktop size, by day and by night, in both languages.
import assert from 'node:assert/strict'
import { answered, ask, cleanly, DESKTOP, PHONE, SENSING, shoot, withCompass } from './site.mjs'

const WORDS = {
  en: {
    fly: /^Fly/, change: 'Which motor?', ready: 'All done: to the pad', touch: 'Touch at lift-off', asked: 'Is the chute out?', yes: 'Yes, it is out', landed: 'I saw it land', behind: 'It went behind something',
    did: /What it did/, apart: /^came apart/, where: 'Where may it be?', stay: 'Do not set out yet', walk: 'Walk there', back: 'Back', found: 'Found it', whole: 'All of it',
    noted: 'Noted where you stand', part: 'Only part of it', nose: 'nose with the chute', look: 'Look for it', rest: 'Where the rest may be', done: 'Done', all: 'Found, all of it',
    lost: 'I just lost one', point: 'Point where you last saw it', now: 'just now', east: 'east', chute: 'parachute', before: 'Before you walk', there: /You are there|Stop here|STOP/,
  },
  es: {
    fly: /^Volar/, change: '¿Qué motor?', ready: 'Todo listo: a la plataforma', touch: 'Toque al despegar', asked: '¿Se abrió el paracaídas?', yes: 'Sí, ha abierto', landed: 'Lo vi aterrizar', behind: 'Se fue detrás de algo',
    did: /Qué hizo/, apart: /^se separó/, where: '¿Dónde puede estar?', stay: 'No salga todavía', walk: 'Ir allí', back: 'Volver', found: 'Lo encontré', whole: 'Entero',
    noted: 'Se anota donde está usted', part: 'Solo una parte', nose: 'cono con el paracaídas', look: 'Buscarlo', rest: 'Dónde puede estar el resto', done: 'Listo', all: 'Encontrado entero',
    lost: 'Acabo de perder uno', point: 'Apunte a donde lo vio por última vez', now: 'ahora mismo', east: 'este', chute: 'paracaídas', before: 'Antes de caminar', there: /Ha llegado|Pare aquí|¡ALTO!/,
  },
}

/** East of magnetic north at the field, degrees (WMM2025). */
const DECLINATION_DEG = 5

/** Each size, each light and each language with every other at least once. */
const WAYS = [
  ['en', 'phone', 'light'],
  ['es', 'phone', 'dark'],
  ['es', 'desktop', 'light'],
  ['en', 'desktop', 'dark'],
]

const button = (page, name) => page.getByRole('button', { name, exact: typeof name === 'string' })

/** Stands somewhere else. Nobody walks so fast, so the receiver must insist. */
async function stand(context, { lat, lon }) {
  for (let i = 0; i < 7; i++) {
    await context.setGeolocation({ latitude: lat + i * 1e-7, longitude: lon, accuracy: 5 })
    await new Promise((done) => setTimeout(done, 120))
  }
}

/** Follows a flight over the pad by the keyboard, which holds on every size of screen, until it is asked where it went. */
async function followed(page, point, words, opens) {
  await button(page, words.fly).click()
  await page.getByText(words.touch).waitFor()
  await button(page, words.change).click()
  const opening = page.waitForResponse('**/api/expected_opening')
  await page.getByRole('radio', { name: 'C', exact: true }).click({ force: true })
  await opening
  await button(page, words.ready).click()
  const hold = page.locator('button.hold')
  await hold.press('Enter')
  // Up to 200 m in 6 s beside the pad, where the phone is, and then with the wind towards the east.
  const since = Date.now()
  const asked = page.locator('[data-asking]')
  while (!(await asked.isVisible())) {
    const t_s = (Date.now() - since) / 1000
    assert.ok(t_s < 40, 'nobody asked whether it is out')
    const up_m = t_s < 6 ? 200 * (1 - (1 - t_s / 6) ** 2) : Math.max(5, 200 - 5 * (t_s - 6))
    await point(90 - DECLINATION_DEG, (Math.atan2(up_m, 10 + 3 * t_s) * 180) / Math.PI)
    await page.waitForTimeout(150)
  }
  if (opens) await button(page, words.yes).click()
  await page.waitForTimeout(800)
  await hold.press('Enter')
}

/** From the last question to the answer that has settled: until then nobody is sent anywhere. */
async function settled(page, words) {
  await button(page, words.where).click()
  await answered(page)
  await button(page, words.walk).waitFor({ timeout: 90_000 })
  assert.equal(await page.getByText(words.stay).count(), 0)
  const [{ id }] = await ask(page, 'list_flights', {})
  return id
}

/** Walks to the end of the way that the screen leads, and back to the answer. */
async function walked(page, context, words, part, seen) {
  await button(page, words.walk).click()
  await page.locator('[data-walk-distance], .stop, .way h2').first().waitFor()
  await seen('walk')
  await stand(context, part.aim)
  await page.getByText(words.there).first().waitFor()
  await seen('there')
  await button(page, words.back).click()
  await answered(page)
}

export async function stories({ check, site, sound, wanted }) {
  if (!site.isReal) return
  const clean = cleanly(check, wanted)
  const short = (name, lang, size, look) => `${name}, ${size}, ${look}, ${lang}`

  for (const [lang, size, colorScheme] of WAYS) {
    const words = WORDS[lang]
    const options = { ...SENSING, ...(size === 'phone' ? PHONE : DESKTOP), isMobile: size === 'phone', colorScheme, locale: lang === 'es' ? 'es-ES' : 'en-NZ' }
    const seenAs = (page, story) => async (name) => {
      await shoot(page, `story-${story}-${name}-${size}-${colorScheme}-${lang}`)
      await sound(page)
    }

    await clean(short('a calm flight, followed, walked to and found whole', lang, size, colorScheme), options, async (page, context, at) => {
      const seen = seenAs(page, 'calm')
      const point = await withCompass(page, context, at.address)
      await point(266, 0)
      await followed(page, point, words, true)
      await button(page, words.landed).click()
      await seen('pointing')
      const id = await settled(page, words)
      await seen('answer')
      const [part] = (await ask(page, 'locate_flight', { id })).parts
      await walked(page, context, words, part, seen)
      await button(page, words.found).click()
      await page.getByText(words.noted).waitFor()
      await button(page, words.whole).click()
      await page.locator('[data-found]').waitFor()
      await seen('found')
      await button(page, words.done).click()
      await page.getByText(words.all).first().waitFor({ timeout: 60_000 })
      assert.equal((await ask(page, 'list_flights', {}))[0].standing, 'found')
    })

    await clean(short('a flight that comes apart, from lift-off to both halves found', lang, size, colorScheme), options, async (page, context, at) => {
      const seen = seenAs(page, 'apart')
      const point = await withCompass(page, context, at.address)
      await point(266, 0)
      await followed(page, point, words, false)
      await button(page, words.behind).or(page.locator('[data-asking]')).first().waitFor()
      await button(page, words.behind).click()
      await page.getByRole('button', { name: words.did }).click()
      await page.getByRole('radio', { name: words.apart }).click({ force: true })
      const id = await settled(page, words)
      await seen('answer')
      await stand(context, (await ask(page, 'locate_flight', { id })).parts[0].aim)
      await button(page, words.found).click()
      await page.getByText(words.noted).waitFor()
      await button(page, words.part).click()
      await page.getByRole('checkbox', { name: words.nose }).click()
      await button(page, words.look).click()
      await page.locator('[data-rest]').waitFor({ timeout: 60_000 })
      await page.getByText(words.rest).first().waitFor()
      await page.locator('canvas[data-share="1.00"]').waitFor()
      await seen('rest')
      await button(page, words.walk).click()
      const { parts } = await ask(page, 'locate_flight', { id })
      await page.locator('[data-walk-distance], .stop, .way h2').first().waitFor()
      await stand(context, parts.find((it) => it.part === 'nose').aim)
      await page.getByText(words.there).first().waitFor()
      await button(page, words.back).click()
      await answered(page)
      await button(page, words.found).click()
      await page.getByText(words.noted).waitFor()
      await page.getByRole('button', { name: new RegExp(words.nose) }).click()
      await page.locator('[data-off]').waitFor({ timeout: 60_000 })
      await seen('off')
      await button(page, words.done).click()
      await page.getByText(words.all).first().waitFor({ timeout: 60_000 })
    })

    await clean(short('lost a minute ago by somebody who never saw the program', lang, size, colorScheme), options, async (page, context, at) => {
      const seen = seenAs(page, 'lost')
      const point = await withCompass(page, context, at.address)
      await point(71, 12)
      await page.getByRole('button', { name: words.lost }).click()
      await seen('asked')
      await page.getByRole('button', { name: words.point }).press('Enter')
      await page.locator('[data-step="seen"]').filter({ hasText: /071°/ }).waitFor()
      for (const name of [words.now, 'C', words.east, words.chute]) await page.getByRole('radio', { name, exact: true }).click({ force: true })
      await answered(page)
      await button(page, words.walk).waitFor({ timeout: 60_000 })
      await seen('answer')
      const [{ id }] = await ask(page, 'list_flights', {})
      const [part] = (await ask(page, 'locate_flight', { id })).parts
      // It lies the way that was pointed, as a compass shows it: within 20 degrees, three times what a phone is off.
      assert.ok(Math.abs(((part.bearing_magnetic_deg - 71 + 540) % 360) - 180) < 20, `${part.bearing_magnetic_deg}`)
      assert.ok(part.distance_from_pad_m > 5 && part.distance_from_pad_m < 1500, `${part.distance_from_pad_m}`)
      await walked(page, context, words, part, seen)
      assert.equal((await ask(page, 'list_flights', {}))[0].standing, 'lost')
    })
  }
}
