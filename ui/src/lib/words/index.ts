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
