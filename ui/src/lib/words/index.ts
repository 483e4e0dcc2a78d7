import { en } from './en'

/** Every sentence of the screen has a key. */
export type WordKey = keyof typeof en

/** The words of `key`, with `{name}` replaced by `values.name`. */
export function say(key: WordKey, values: Record<string, string | number> = {}): string {
  const words: string = en[key]
  return words.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole))
}
