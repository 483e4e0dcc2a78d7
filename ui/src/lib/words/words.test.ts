import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { say } from '.'
import { en } from './en'

const SRC = join(import.meta.dirname, '../..')
const sources = readdirSync(SRC, { recursive: true, encoding: 'utf8' })
  .filter((name) => /\.(svelte|ts)$/.test(name) && !/\.test\.ts$|words\/en\.ts$|generated\//.test(name))
  .map((name) => readFileSync(join(SRC, name), 'utf8'))
  .join('\n')

const keys = Object.keys(en)
const spelled = new Set([...sources.matchAll(/'([a-z]+\.[a-z_]+)'/g)].map((match) => match[1] ?? ''))
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
