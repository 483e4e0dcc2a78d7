import { afterEach, expect, test } from 'vitest'
import { CATALOGUES, type WordKey } from '.'
import type { Sentence } from '../backend/generated'
import { SAID_BY_THE_CORE } from '../backend/generated/english'
import type { Units } from '../units'
import { reading } from '../units/reading.svelte'
import { language, type Language } from './language.svelte'
import { counted, inWords, refusalInWords } from './sentence'

const PRESETS: Units[] = ['metric', 'imperial']

afterEach(() => {
  language.now = 'en'
  reading.units = 'metric'
  reading.own = {}
})

function told(sentence: Sentence, now: Language, units: Units = 'metric'): string {
  language.now = now
  reading.units = units
  return inWords(sentence)
}

// Figures that are names, which are the same in every language; the rest are numbers, or sentences again.
const NAMES = ['observer', 'part', 'name', 'rocket', 'motor', 'phone', 'written', 'year', 'site', 'flight', 'wanted', 'words', 'why']
const INSIDE: Record<string, Sentence | Sentence[] | string[]> = {
  how: { say: 'it_opened' },
  way: { say: 'came_down_far', distance_m: 240, compass_deg: 52 },
  facts: [{ say: 'sightings', count: 1 }, { say: 'wind_readings', count: 2 }],
  what: { say: 'the_road' },
  by: { say: 'by_observer', observer: 'Ada' },
  when: { say: 'at_time', t_s: 41.2 },
  caution: { say: 'stop_at_the_edge' },
  advice: { say: 'do_not_climb' },
  from: { say: 'flights', count: 3 },
  reason: { say: 'class_comes_first' },
  parts: ['upper', 'lower'],
}

function figureOf(name: string): unknown {
  if (name in INSIDE) return INSIDE[name]
  if (name === 'unit') return 'g'
  return NAMES.includes(name) ? 'Heron' : name.startsWith('p_') || name.startsWith('share') ? 0.937 : 2.5
}

/** One of every sentence there is, its figures by the gaps of its English words. */
const EVERY = Object.entries(SAID_BY_THE_CORE).map(([key, words]) => {
  const gaps = [...words.matchAll(/\{(\w+)\}/g)].map((match) => match[1] ?? '')
  return { key: key as WordKey, gaps, sentence: { say: key.replace('core.', ''), ...Object.fromEntries(gaps.map((it) => [it, figureOf(it)])) } as Sentence }
})

test('every_sentence_has_no_gap_left_in_any_language_and_units', () => {
  expect(EVERY.length).toBeGreaterThan(130)
  for (const { sentence } of EVERY) {
    for (const now of ['en', 'es'] as const) {
      for (const units of PRESETS) expect(told(sentence, now, units)).not.toMatch(/[{}|]|undefined|NaN|\[object/)
    }
  }
})

test('no_english_is_left_in_a_spanish_sentence', () => {
  for (const { key, sentence } of EVERY) {
    const spanish = told(sentence, 'es')
    expect(spanish, key).not.toBe(told(sentence, 'en'))
    // No word of these is Spanish.
    expect(spanish, key).not.toMatch(/\b(the|of|and|is|are|was|were|it|its|with|from|not|at|by|on|this|that|for|one|flight|wind|pad)\b/i)
  }
})

test('figures_with_a_unit_are_said_in_the_units_of_the_flyer', () => {
  const measured = EVERY.filter(({ gaps }) => gaps.some((it) => /_(m|mps|mm)$/.test(it) || it === 'value'))
  expect(measured.length).toBeGreaterThan(5)
  for (const { key, sentence } of measured) {
    for (const now of ['en', 'es'] as const) {
      expect(told(sentence, now, 'imperial'), key).not.toBe(told(sentence, now, 'metric'))
      expect(told(sentence, now, 'imperial'), key).not.toMatch(/\d\s(m|km|m\/s|g|cm|mm)(?![\p{L}/])/u)
      expect(told(sentence, now, 'metric'), key).not.toMatch(/\d\s(ft|mi|oz|in)\b/)
    }
  }
})

test('spanish_sentences_have_no_decimal_point', () => {
  const points = EVERY.map(({ sentence }) => told(sentence, 'es', 'imperial')).filter((it) => /\d\.\d/.test(it))
  // A place is written as everywhere on the screens.
  expect(points).toEqual([expect.stringContaining('latitud')])
})

test('the_reason_is_said_in_both_languages_and_units', () => {
  const why: Sentence = {
    say: 'why', how: { say: 'it_opened' }, p_how: 0.937, apogee_m: 231.4, in_the_air_s: 64.8,
    way: { say: 'came_down_far', distance_m: 239, compass_deg: 52 },
  }
  expect(told(why, 'en').replaceAll('\u00a0', ' ')).toBe(
    'Most likely its recovery device opened as planned (9 of 10): it rose to about 230 m, was 65 s in the air, and came down about 240 m north-east of the pad.',
  )
  expect(told(why, 'es', 'imperial').replaceAll('\u00a0', ' ')).toBe(
    'Lo más probable es que se abriera como debía (9 de 10): subió a unos 760 ft, estuvo 65 s en el aire y cayó a unos 780 ft al noreste de la plataforma.',
  )
})

test('one_is_spoken_of_as_one_and_lists_end_in_and', () => {
  const facts: Sentence[] = [{ say: 'sightings', count: 1 }, { say: 'tracks', count: 2 }, { say: 'no_wind_reading_at_all' }]
  expect(told({ say: 'rests_on', facts }, 'en')).toBe('This rests on 1 sighting, 2 tracks and no wind reading at all.')
  expect(told({ say: 'rests_on', facts }, 'es')).toBe('Esto se apoya en 1 avistamiento, 2 seguimientos y ninguna lectura del viento.')
  expect(told({ say: 'wind_of_today', count: 1 }, 'es')).toBe('El viento se conoce también por el vuelo de hoy.')
})

test('what_is_not_known_leaves_no_space_behind', () => {
  const off: Sentence = { say: 'sighting_off', what: { say: 'when_last_seen' }, by: null, when: null }
  expect(told(off, 'es')).toContain('de cuando se perdió de vista no encaja')
  expect(told({ ...off, by: { say: 'by_observer', observer: 'Ada' } }, 'es')).toContain('de vista (de Ada) no encaja')
})

test('parts_that_nobody_named_are_named_in_the_language', () => {
  const caution: Sentence = { say: 'stop_here', what: { say: 'called', what: { say: 'the_road' }, name: 'Mill Lane' }, advice: { say: 'cross_where_allowed' } }
  expect(told({ say: 'on_the_way_to', part: 'rocket', caution }, 'es')).toMatch(/^De camino a «cohete»: Pare aquí\. Delante: la carretera \(Mill Lane\); mire a ambos lados/)
})

test('chances_are_counts_and_never_none_or_all', () => {
  expect([0.937, 0.5, 0.99, 0.04, 0, 1, 0.96].map(counted)).toEqual([
    '9 of 10', '5 of 10', '99 of 100', '4 of 100', 'fewer than 1 of 100', 'more than 99 of 100', '96 of 100',
  ])
  // Nothing is rounded to none or all of ten.
  for (let p = 0.005; p < 0.995; p += 0.001) expect(counted(p)).toMatch(/^[1-9] of 10$|^[1-9]\d? of 100$/)
})

test('a_refusal_names_the_field_and_what_is_allowed_in_the_language_and_units', () => {
  const said: Sentence = { say: 'out_of_range', value: 6200, low: 1, high: 1500, unit: 'g' }
  const field = 'rocket.stages[0].dry_mass_g'
  const refused = (now: Language, units: Units) => {
    language.now = now
    reading.units = units
    return refusalInWords('terminal', said, field).replaceAll('\u00a0', ' ')
  }
  expect(refused('en', 'metric')).toBe('Weight: 6200 g is out of range: allowed is 1 g to 1500 g')
  expect(refused('es', 'imperial')).toBe('Peso: 219 oz no vale: se admite de 0 oz a 53 oz')
  const motor: Sentence = { say: 'no_designation', written: 'H128', reason: { say: 'class_comes_first' } }
  language.now = 'es'
  expect(refusalInWords('terminal', motor, 'stages[0].motor')).toMatch(/^Motor: «H128» no es un motor: empieza por su clase/)
  expect(refusalInWords('The estimate broke.', undefined, undefined)).toBe('No se pudo. En inglés: The estimate broke.')
  language.now = 'en'
  expect(refusalInWords('The estimate broke.', undefined, undefined)).toBe('The estimate broke.')
})

test('both_catalogues_say_one_and_many_alike_often', () => {
  for (const key of Object.keys(SAID_BY_THE_CORE) as WordKey[]) {
    const isCounted = CATALOGUES.en[key].includes('{count}')
    for (const now of ['en', 'es'] as const) {
      if (CATALOGUES[now][key].includes('|')) expect(isCounted, key).toBe(true)
      expect(CATALOGUES[now][key].split('|').length, key).toBeLessThanOrEqual(2)
    }
  }
})
