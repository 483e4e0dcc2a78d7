import { en } from './en'
import { es } from './es'
import { language, type Language } from './language.svelte'

/** Every sentence of the screen has a key. */
export type WordKey = keyof typeof en

/** One catalogue a language. */
export const CATALOGUES: Record<Language, Record<WordKey, string>> = { en, es }

/** The words of `key`, with `{name}` replaced by `values.name`. */
export function say(key: WordKey, values: Record<string, string | number> = {}): string {
  const [one = '', many = one] = CATALOGUES[language.now][key].split('|')
  const words = values.count === undefined || values.count === 1 ? one : many
  return (language.stretched ? stretched(words) : words).replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole))
}

/** A day and its hour in words, as the clock showed them: no time zone of this device may move them. */
export function dayAndHour(at: string): string {
  const format = new Intl.DateTimeFormat(language.now === 'en' ? 'en-GB' : language.now, { dateStyle: 'long', timeStyle: 'short', timeZone: 'UTC' })
  return format.format(new Date(`${at.slice(0, 16)}Z`))
}

/** Words four tenths longer: every run of letters is followed by its own beginning. Gaps stay as they are. */
export function stretched(words: string): string {
  const longer = (run: string) => run + [...run].slice(0, Math.ceil([...run].length * 0.4)).join('')
  return words
    .split(/(\{\w+\})/)
    .map((piece) => (piece.startsWith('{') ? piece : piece.replace(/\p{L}+/gu, longer)))
    .join('')
}

/** What lies at a place that another phone named: which part it is, only that phone knows. */
export const NAMED = 'named'

/** What was picked up of a rocket whose parts nobody declared, as the core calls it. */
export const UNNAMED = 'in hand'

// Names that the core gives to stages and parts that nobody named.
const PARTS: Record<string, WordKey> = {
  [UNNAMED]: 'piece.in_hand',
  nose: 'piece.nose',
  'fin can': 'piece.fin_can',
  chute: 'piece.chute',
  'motor case': 'piece.motor_case',
  altimeter: 'piece.altimeter',
  rocket: 'piece.rocket',
  booster: 'piece.booster',
  sustainer: 'piece.sustainer',
  upper: 'piece.upper',
  lower: 'piece.lower',
  body: 'piece.body',
  [NAMED]: 'piece.named',
}

/** A title that the program made: its catalogue key, and the rocket and the hour in it. */
export interface MadeTitle {
  key: 'fly.flight_title' | 'lost.flight_title'
  rocket: string
  time: string
}

const escaped = (text: string) => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')

/**
 * The parts of a title that the program made, in whatever language it was made; null of one that somebody typed. A
 * flight file keeps one line for people, which others read too: its parts are in that line.
 */
export function madeTitle(title: string): MadeTitle | null {
  for (const catalogue of Object.values(CATALOGUES)) {
    for (const key of ['fly.flight_title', 'lost.flight_title'] as const) {
      const pattern = escaped(catalogue[key]).replace('\\{rocket\\}', '(?<rocket>.+)').replace('\\{time\\}', '(?<time>\\d\\d:\\d\\d)')
      const parts = new RegExp(`^${pattern}$`).exec(title)?.groups
      if (parts?.time !== undefined) return { key, rocket: parts.rocket ?? '', time: parts.time }
    }
  }
  return null
}

/** A title in the language of now, if the program made it; as it was typed, if somebody typed it. */
export function titleSaid(title: string): string {
  const made = madeTitle(title)
  if (!made) return title
  const isUnnamed = Object.values(CATALOGUES).some((it) => it['fly.other'] === made.rocket)
  return say(made.key, { rocket: isUnnamed ? say('fly.other') : made.rocket, time: made.time })
}

/** What stands under a title: whatever the title does not say itself. */
export function besides(title: string, more: (string | null | undefined)[]): string {
  return more.filter((it) => it && !title.includes(it)).join(' · ')
}

/** What a part is called on the screen: as the flyer named it, or in the flyer's language. */
export function partName(part: string): string {
  const key = PARTS[part]
  return key ? say(key) : part
}
