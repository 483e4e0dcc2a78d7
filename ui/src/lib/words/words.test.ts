import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { CATALOGUES, madeTitle, say, stretched, titleSaid, type WordKey } from '.'
import { en } from './en'
import { language, type Language } from './language.svelte'

/** Words of the core that mean nothing to a flyer. */
const CORE_WORDS = /\b(posterior|prior|cloud|evidence|belief|mode|section|sweep|leg|ESS|Monte Carlo)s?\b/i
/** What both languages write alike. */
const SAME_IN_BOTH = ['answer.no', 'answer.walk_unit', 'app.name', 'core.called', 'down.on_one', 'fly.motor', 'fly.t', 'map.north', 'refused.motor', 'refused.named', 'units.imperial', 'unlit.wait']

const SRC = join(import.meta.dirname, '../..')
const sources = readdirSync(SRC, { recursive: true, encoding: 'utf8' })
  .filter((name) => /\.(svelte|ts)$/.test(name) && !/\.test\.ts$|words\/(en|es|core\.es)\.ts$|generated\//.test(name))
  .map((name) => readFileSync(join(SRC, name), 'utf8'))
  .join('\n')

const keys = Object.keys(en)
const spelled = new Set([...sources.matchAll(/'([a-z]+\.[a-z_0-9]+)'/g)].map((match) => match[1] ?? ''))
const families = new Set([...sources.matchAll(/say\(\s*`([a-z]+\.)\$\{/g)].map((match) => match[1] ?? ''))

test('every_key_that_is_said_exists', () => {
  const said = [...sources.matchAll(/say\(\s*'([^']+)'/g)].map((match) => match[1] ?? '')
  expect(said.length).toBeGreaterThan(30)
  expect(said.filter((key) => !keys.includes(key))).toEqual([])
  expect([...families].filter((family) => !keys.some((key) => key.startsWith(family)))).toEqual([])
})

test('no_key_is_left_unused', () => {
  const unused = keys.filter((key) => !spelled.has(key) && ![...families].some((family) => key.startsWith(family)))
  expect(unused).toEqual([])
})

test('a_sentence_takes_its_values_and_shows_a_gap_that_nobody_filled', () => {
  expect(say('answer.apart', { chance: '8 %' })).toBe('Chance that it fell on its own: 8 %.')
  expect(say('answer.apart')).toContain('{chance}')
})

test('both_languages_have_the_same_keys_and_the_same_gaps', () => {
  const gaps = (words: string) => [...new Set([...words.matchAll(/\{\w+\}/g)].map((match) => match[0]))].sort()
  for (const catalogue of Object.values(CATALOGUES)) {
    expect(Object.keys(catalogue).sort()).toEqual([...keys].sort())
    for (const [key, words] of Object.entries(catalogue)) {
      expect(words.trim(), key).not.toBe('')
      expect(gaps(words), key).toEqual(gaps(en[key as WordKey]))
    }
  }
})

test('spanish_is_not_english_left_over', () => {
  const same = keys.filter((key) => CATALOGUES.es[key as WordKey] === en[key as WordKey])
  expect(same.sort()).toEqual(SAME_IN_BOTH)
})

test('no_word_of_the_core_leaks_to_the_screen', () => {
  const leaked = Object.values(CATALOGUES).flatMap((catalogue) => Object.entries(catalogue).filter(([, words]) => CORE_WORDS.test(words)))
  expect(leaked).toEqual([])
})

test('stretched_words_are_four_tenths_longer_and_keep_their_gaps', () => {
  for (const words of Object.values(en)) {
    const letters = (it: string) => [...it.replace(/\{\w+\}/g, '')].filter((letter) => /\p{L}/u.test(letter)).length
    expect(letters(stretched(words))).toBeGreaterThanOrEqual(1.4 * letters(words))
    expect(stretched(words).match(/\{\w+\}/g)).toEqual(words.match(/\{\w+\}/g))
  }
})

test('one_is_spoken_of_as_one', () => {
  const counted = keys.filter((key) => en[key as WordKey].includes('{count}'))
  expect(counted.length).toBeGreaterThan(15)
  for (const words of Object.keys(CATALOGUES) as Language[]) {
    language.now = words
    // Counts as chances go with how many there are in all.
    const wrong = counted.map((key) => say(key as WordKey, { count: 1 })).filter((said) => /(^|[^\d\p{L}])1 \p{L}{3,}s\b(?! of)/u.test(said))
    expect(wrong, words).toEqual([])
  }
  language.now = 'en'
})

test('a_title_that_was_made_is_said_in_the_language_of_now_and_one_that_was_typed_stays', () => {
  const was = language.now
  try {
    for (const [made, rocket] of [['en', 'Linnet, the red one'], ['es', 'Pardillo'], ['en', CATALOGUES.en['fly.other']]] as const) {
      language.now = made
      const title = say('fly.flight_title', { rocket, time: '07:55' })
      const lost = say('lost.flight_title', { time: '09:10' })
      expect(madeTitle(title)).toEqual({ key: 'fly.flight_title', rocket, time: '07:55' })
      for (const now of ['en', 'es'] as const) {
        language.now = now
        const named = rocket === CATALOGUES.en['fly.other'] ? say('fly.other') : rocket
        expect(titleSaid(title)).toBe(say('fly.flight_title', { rocket: named, time: '07:55' }))
        expect(titleSaid(lost)).toBe(say('lost.flight_title', { time: '09:10' }))
      }
    }
    for (const typed of ['Linnet', 'Evening, flown at dusk', 'flown at 07:55', '']) expect(titleSaid(typed)).toBe(typed)
  } finally {
    language.now = was
  }
})
