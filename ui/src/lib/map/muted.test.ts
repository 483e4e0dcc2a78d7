import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { contrast, luminance, mutedFor } from './muted'

/** The inks as look.css has them. */
function paletteOf(look: 'light' | 'dark') {
  const css = readFileSync(new URL('../../look.css', import.meta.url), 'utf8')
  const [light = '', dark = ''] = css.split(":root[data-look='dark']")
  const ink = (name: string) => new RegExp(`--${name}: (#[0-9a-f]{6})`).exec(look === 'dark' ? dark : light)?.[1] ?? ''
  return { ink: ink('ink'), accent: ink('accent'), water: ink('map-water'), plants: ink('map-plants') }
}

test('contrast is as WCAG has it: black on white is 21, #767676 on white is 4.54', () => {
  // The second is the lightest grey that passes 4.5 on white: common practice, no source.
  expect(contrast(luminance([0, 0, 0]), luminance([1, 1, 1]))).toBeCloseTo(21, 9)
  const grey = 0x76 / 255
  expect(contrast(luminance([grey, grey, grey]), luminance([1, 1, 1]))).toBeCloseTo(4.54, 2)
})

test.each(['light', 'dark'] as const)('the worst dot of a picture keeps the inks readable on a %s sheet', (look) => {
  const palette = paletteOf(look)
  const { base, opacity } = mutedFor(palette, look === 'dark')
  expect(opacity).toBeGreaterThan(0.15)
  expect(opacity).toBeLessThan(0.6)
  const under = base === '#ffffff' ? 1 : 0
  for (const dot of [0, 0.5, 1]) {
    const shown = opacity * dot + (1 - opacity) * under
    for (const [name, ink] of Object.entries(palette)) {
      const rgb = [1, 3, 5].map((at) => Number.parseInt(ink.slice(at, at + 2), 16) / 255) as [number, number, number]
      expect(contrast(luminance(rgb), luminance([shown, shown, shown])), `${name} on ${String(dot)}`).toBeGreaterThanOrEqual(name === 'ink' ? 6.99 : 2.99)
    }
  }
})
