import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'

// The palettes as they stand in the one file that owns them.
const css = readFileSync(new URL('./look.css', import.meta.url), 'utf8')
const tokens = (selector: string): Record<string, string> => {
  const block = css.slice(css.indexOf(`${selector} {`)).split('}')[0] ?? ''
  return Object.fromEntries([...block.matchAll(/--([\w-]+): (#[\da-f]{6});/g)].map(([, name = '', value = '']) => [name, value]))
}
const PALETTES = { light: tokens(':root'), dark: tokens(":root[data-look='dark']") }

/** Relative luminance, W3C, WCAG 2.2, definitions: https://www.w3.org/TR/WCAG22/#dfn-relative-luminance */
function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
    const share = parseInt(hex.slice(at, at + 2), 16) / 255
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4
  })
  return 0.2126 * r + 0.7152 * g + 0.0722 * b
}

/** Contrast ratio, the same page: (L1 + 0.05) / (L2 + 0.05), the lighter first. */
function contrast(a: string, b: string): number {
  const [light = 0, dark = 0] = [luminance(a), luminance(b)].toSorted((x, y) => y - x)
  return (light + 0.05) / (dark + 0.05)
}

/** What is written, and on what. Names on the map have a rim of paper. */
const WRITTEN: [ink: string, ground: string][] = [
  ...['paper', 'sheet', 'wash', 'map-ground', 'map-field'].map((ground): [string, string] => ['ink', ground]),
  ...['paper', 'sheet'].flatMap((ground): [string, string][] => [['ink-soft', ground], ['accent', ground]]),
  ['on-accent', 'accent'],
  ['on-caution', 'caution'],
  ['map-ground', 'ink'],
]

/** What is told apart by its colour beside its shape or word, and must be in greys: W3C, WCAG 2.2, 1.4.11, 3 to 1. */
const TOLD_APART: [mark: string, beside: string][] = [
  ['accent', 'paper'],
  ['accent', 'sheet'],
  ['accent', 'map-ground'],
  ['accent', 'map-field'],
  ['on-caution', 'caution'],
  ['map-water', 'map-ground'],
  ['map-water', 'map-field'],
  ['map-plants', 'map-ground'],
  ['map-plants', 'map-field'],
  ['focus', 'paper'],
  ['focus', 'sheet'],
]

const of = (palette: Record<string, string>, name: string) => palette[name] ?? expect.fail(`no colour ${name}`)

test('the formula gives the ratios that the standard names: 21 for black on white, 1 for a colour on itself', () => {
  expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 9)
  expect(contrast('#8a0f6b', '#8a0f6b')).toBe(1)
})

test.each(Object.entries(PALETTES))('whatever is written in the %s look has a contrast of 7 to 1', (_, palette) => {
  expect(Object.keys(palette).length).toBeGreaterThan(15)
  const low = WRITTEN.map(([ink, ground]) => [ink, ground, contrast(of(palette, ink), of(palette, ground))] as const).filter(([, , ratio]) => !(ratio >= 7))
  expect(low).toEqual([])
})

test.each(Object.entries(PALETTES))('in greys the marks of the %s look still stand out from what lies beside them', (_, palette) => {
  const low = TOLD_APART.map(([mark, beside]) => [mark, beside, contrast(of(palette, mark), of(palette, beside))] as const).filter(([, , ratio]) => !(ratio >= 3))
  expect(low).toEqual([])
})
