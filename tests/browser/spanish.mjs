// What the core says, on a screen in Spanish and in feet: none of it may stay English or metric.
import assert from 'node:assert/strict'
import { join } from 'node:path'
import { answered, ask, openClean, SENSING, shoot, tellAnew, twiceTheText } from './site.mjs'
import { calmTour, tour } from './tour.mjs'

/** Words that English sentences can hardly do without, and Spanish ones never have. */
const ENGLISH = /\b(the|of|and|is|are|was|it|its|with|from|not|at|by|on|this|that|which)\b/i
const METRIC = /\d\s(m|km|m²|ha|m\/s|cm|g|°C)(?![\p{L}/])/u

const inSpanish = (page, units = 'imperial') =>
  page.addInitScript(
    (kept) => location.protocol === 'about:' || localStorage.setItem('windfall.settings', kept),
    JSON.stringify({ language: 'es', units, own: {} }),
  )

/** What stands in `places`, without the names that people gave. */
async function words(page, places, names) {
  let text = (await page.locator(places).allInnerTexts()).join('\n')
  for (const name of names.filter((it) => it)) text = text.replaceAll(name, '')
  return text
}

const namesOf = (flight) => [
  flight.rocket.name, flight.title, flight.field?.name,
  ...(flight.field?.hazards ?? []).map((it) => it.name),
  ...flight.evidence.map((it) => it.observer),
]

/** Every text the core has for a terminal. */
const textsOf = (answer) => [
  answer.why, answer.would_help, ...answer.cautions, ...answer.warnings, ...answer.beliefs,
  ...answer.surprises.map((it) => it.text), ...answer.parts.map((it) => it.approach.caution),
].filter((it) => it)

/** Least height of a map that something can be found on, CSS pixels. */
const LEAST_MAP_PX = 200

/** What text at twice its size (WCAG 2.2, 1.4.4) breaks on this screen. */
const tooLarge = (page) =>
  page.evaluate((least_px) => {
    const wrong = []
    // What lies under a screen that is locked, or under the camera, is not what is looked at.
    const shown = (it) => it.checkVisibility({ visibilityProperty: true }) && !it.closest('[inert]') && it.getBoundingClientRect().width > 1
    const name = (it) => `${it.tagName} "${it.textContent.trim().slice(0, 40)}"`
    for (const box of [document.documentElement, ...document.querySelectorAll('main, .paper, section')]) {
      // A picture that is cropped on purpose scrolls nowhere.
      const scrolls = box === document.documentElement || /auto|scroll/.test(getComputedStyle(box).overflowX)
      if (scrolls && box.scrollWidth > box.clientWidth + 1) wrong.push(`${box.tagName}.${box.className} scrolls sideways by ${box.scrollWidth - box.clientWidth}`)
    }
    for (const it of document.querySelectorAll('main :is(h1, h2, h3, p, button, label, legend, span, dd, dt, td, th, li), header *')) {
      if (!shown(it) || it.closest('[role="application"]')) continue
      const { left, right } = it.getBoundingClientRect()
      if (right > innerWidth + 1 || left < -1) wrong.push(`${name(it)} stands beyond the screen`)
    }
    // A word is broken where it needs more than it has: then a letter stands alone.
    for (const it of document.querySelectorAll('main :is(h1, h2, button, dt)')) {
      if (!shown(it) || it.children.length > 1) continue
      const longest = it.innerText.split(/\s+/).reduce((a, b) => (b.length > a.length ? b : a), '')
      const pen = document.createElement('canvas').getContext('2d')
      const style = getComputedStyle(it)
      pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`
      const room = it.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight)
      if (longest.length > 3 && pen.measureText(longest).width * 0.98 > room && room > 0) wrong.push(`${name(it)} breaks the word "${longest}"`)
    }
    for (const it of document.querySelectorAll('button, label')) {
      if (shown(it) && it.scrollHeight > it.clientHeight + 4) wrong.push(`${name(it)} stands out of its frame`)
    }
    for (const it of document.querySelectorAll('button > span')) {
      const [own, frame] = [it.getBoundingClientRect(), it.parentElement.getBoundingClientRect()]
      if (shown(it) && (own.top < frame.top - 2 || own.bottom > frame.bottom + 2)) wrong.push(`${name(it)} stands out of the button above or below`)
    }
    // What is touched on the flight, and the way that an arrow points, are in sight without scrolling.
    const foot = document.querySelector('footer')?.getBoundingClientRect()
    // Whoever chooses another rocket is not about to fly.
    for (const it of document.querySelectorAll('main:not(:has(.choice)) footer button, .way :is(.arrow, .far)')) {
      const { top, bottom } = it.getBoundingClientRect()
      const end = it.closest('footer') ? innerHeight : (foot?.top ?? innerHeight)
      if (shown(it) && (top < 0 || bottom > end + 1)) wrong.push(`${name(it)} (${it.className.baseVal ?? it.className}) is not in sight`)
    }
    for (const map of document.querySelectorAll('[role="application"]')) {
      const { height } = map.getBoundingClientRect()
      if (shown(map) && height < least_px) wrong.push(`the map is ${Math.round(height)} px high`)
    }
    return wrong
  }, LEAST_MAP_PX)

/** Refuses what is English or metric in the sentences of the core on this page; what there is of it. */
async function allSpanish(page, id, places) {
  const [flight, answer] = [await ask(page, 'show_flight', { id }), await ask(page, 'locate_flight', { id })]
  // What is found keeps its reasons folded.
  await page.evaluate(() => document.querySelectorAll('details').forEach((it) => (it.open = true)))
  const said = await words(page, places, namesOf(flight))
  assert.doesNotMatch(said, ENGLISH)
  assert.doesNotMatch(said, METRIC)
  const whole = await page.evaluate(() => document.body.innerText)
  for (const text of textsOf(answer)) assert.ok(!whole.includes(text), `${id}: "${text}"`)
  return said
}

export async function spanish({ check, site, sound, wanted }) {
  if (!site.isReal) return

  await check('in Spanish and feet every answer is said in Spanish and feet', SENSING, async (page) => {
    await inSpanish(page)
    await page.reload()
    await page.locator('[data-flight]').first().waitFor()
    const flights = await page.locator('[data-flight]').evaluateAll((all) => all.map((it) => it.dataset.flight))
    for (const id of flights) {
      await page.locator(`[data-flight="${id}"]`).click()
      await answered(page)
      const said = await allSpanish(page, id, '.words, .help p, section[aria-label="Antes de caminar"]')
      assert.match(said, /Lo más probable es que .+ \((más de )?\d+ de 10+\): subió a unos \d+\s(ft|mi)/)
      assert.match(said, /Esto se apoya en/)
      await page.getByRole('button', { name: 'Vuelos' }).click()
    }
    assert.ok(flights.length >= 8)
  })

  await check('in Spanish limits, doubts and the walk are Spanish, by day and by night', SENSING, async (page) => {
    await inSpanish(page)
    // Everything at once that limits an answer: no wind, no day, no motor, an altimeter of another flight, a beacon.
    const id = await tellAnew(page, 'heron-lost', (flight) => ({
      ...flight,
      wind: [],
      launch: { rod: null },
      rocket: { ...flight.rocket, stages: flight.rocket.stages.map((stage) => ({ ...stage, motor: null })) },
      evidence: [...flight.evidence, { kind: 'altimeter', apogee_m: 2400 }, { kind: 'beacon', heard: false }],
    }))
    await page.locator(`[data-flight="${id}"]`).click()
    await answered(page)
    const said = await allSpanish(page, id, '.words, .help p, section[aria-label="Antes de caminar"]')
    for (const one of ['Sin lectura del viento', 'No se sabe el día del vuelo', 'No se conoce el motor', 'La baliza se guarda', 'Lo que más ayudaría']) {
      assert.ok(said.includes(one), `${one}: ${said}`)
    }
    await sound(page)
    await shoot(page, 'es-answer-light')
    await page.emulateMedia({ colorScheme: 'dark' })
    await shoot(page, 'es-answer-dark')
    await page.locator('.paper').evaluate((it) => it.scrollTo({ top: it.scrollHeight }))
    await shoot(page, 'es-answer-words')
    await page.emulateMedia({ colorScheme: 'light' })
    await page.getByRole('button', { name: 'Ir allí' }).click()
    await page.locator('main').first().waitFor()
    await allSpanish(page, id, 'section[aria-label="Antes de caminar"]')
    await shoot(page, 'es-walk')
  })

  for (const language of ['es', 'en']) {
    const twice = `at twice the text size no calm screen scrolls sideways and every map stays usable, in ${language}`
    if (wanted && !wanted.test(twice)) continue
    const large = await openClean()
    try {
      await check(twice, SENSING, async (page) => {
        await page.addInitScript((kept) => location.protocol === 'about:' || localStorage.setItem('windfall.settings', kept), JSON.stringify({ language }))
        // WCAG 2.2, 1.4.4. Set before anything is laid out, as a phone does it.
        await twiceTheText(page)
        await page.reload()
        await page.locator('[data-calm]').first().waitFor()
        const [been, wrong] = [[], []]
        await calmTour(page, large, language, async (name) => {
          been.push(name)
          await page.waitForTimeout(250)
          wrong.push(...(await tooLarge(page)).map((it) => `${name}: ${it}`))
          await shoot(page, `${language}-200-${name}`)
        })
        assert.equal(wrong.join('; '), '')
        assert.ok(been.length >= 18, been.join(' '))
      }, { at: large })
    } finally {
      large.close()
    }
  }

  await check('at twice the text size no screen in the hand scrolls sideways, and every map stays usable', SENSING, async (page, context) => {
    await twiceTheText(page)
    await page.reload()
    const [been, wrong] = [[], []]
    await tour(page, context, site, async (name) => {
      been.push(name)
      await page.waitForTimeout(250)
      wrong.push(...(await tooLarge(page)).map((it) => `${name}: ${it}`))
      await shoot(page, `hand-200-${name}`)
    })
    assert.equal(wrong.join('; '), '')
    assert.ok(been.length > 25, been.join(' '))
  })

  const refused = 'in Spanish a motor that is none is refused in Spanish, and a past flight is told in it'
  if (wanted && !wanted.test(refused)) return
  const clean = await openClean()
  const body = async (page) => {
    await inSpanish(page)
    await page.reload()
    await page.locator('[data-calm="rockets"]').click()
    await page.getByLabel('Motor del cohete', { exact: true }).fill('Q9')
    await page.getByText('«Q9» no es un motor: empieza por su clase').waitFor()
    await ask(page, 'tell_flight', {
      flight: {
        format: 'windfall-flight/1', title: 'Carriza', pad: { lat: 47.5, lon: 17.3 }, wind: [{ speed_mps: 4, from_deg: 180 }],
        rocket: { name: 'Carriza', stages: [{ motor: 'C6-5', recovery: { kind: 'parachute' } }] },
        launch: { at: '2026-05-02T10:00:00+02:00' },
        evidence: [
          { kind: 'sighting', moment: 'lost', t_s: 41, bearing_deg: 5 },
          { kind: 'saw', mode: 'cord_broke', sure: 'sure' },
          { kind: 'find', part: 'rocket', at: { lat: 47.501, lon: 17.3 } },
        ],
      },
    })
    await page.reload()
    await page.locator('[data-calm="past"]').click()
    await page.locator('[data-past]').first().click()
    await page.locator('[data-line="found"]').waitFor()
    const story = await words(page, 'ol.lines', [])
    assert.doesNotMatch(story, ENGLISH)
    assert.doesNotMatch(story, METRIC)
    assert.match(story, /se rompió el cordón/)
    await sound(page)
    await shoot(page, 'es-past')
  }
  try {
    await check(refused, SENSING, body, { mayLog: true, at: clean })
  } finally {
    clean.close()
  }
}
