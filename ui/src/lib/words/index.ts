import { en } from './en'
import { es } from './es'
import { language, type Language } from './language.svelte'

/** Every sentence of the screen has a key. */
export type WordKey = keyof typeof en

/** One catalogue a language. */
export const CATALOGUES: Record<Language, Record<WordKey, string>> = { en, es }

/** The words of `key`, with `{name}` replaced by `values.name`. */
export function say(key: WordKey, values: Record<string, string | number> = {}): string {
  return CATALOGUES[language.now][key].replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole))
}

// Names that the core gives to parts of a rocket nobody had declared in parts.
const PARTS: Record<string, WordKey> = {
  'in hand': 'piece.in_hand',
  nose: 'piece.nose',
  'fin can': 'piece.fin_can',
  chute: 'piece.chute',
  'motor case': 'piece.motor_case',
  altimeter: 'piece.altimeter',
}

/** What a part is called on the screen: as the flyer named it, or in the flyer's language. */
export function partName(part: string): string {
  const key = PARTS[part]
  return key ? say(key) : part
}
