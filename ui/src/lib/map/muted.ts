import type { Palette } from './palette'

/** How a picture is made faint: laid over `base`, so strong. */
export interface Muted {
  base: '#ffffff' | '#000000'
  opacity: number
}

/** Of marks that stand on it (WCAG 2.2, 1.4.11), and of what is written in ink (1.4.6; letters have a halo besides). */
const MARKS = 3
const INK = 7

/** The strongest at which the darkest dot, or on a dark sheet the lightest, keeps every ink of the map readable. */
export function mutedFor(palette: Pick<Palette, 'ink' | 'accent' | 'water' | 'plants'>, dark: boolean): Muted {
  const inks: [string, number][] = [[palette.ink, INK], [palette.accent, MARKS], [palette.water, MARKS], [palette.plants, MARKS]]
  const keeps = (opacity: number) => {
    const worst = dark ? opacity : 1 - opacity
    return inks.every(([ink, least]) => contrast(luminance(rgbOf(ink)), luminance([worst, worst, worst])) >= least)
  }
  let [low, high] = [0, 1]
  for (let i = 0; i < 12; i++) {
    const middle = (low + high) / 2
    if (keeps(middle)) low = middle
    else high = middle
  }
  return { base: dark ? '#000000' : '#ffffff', opacity: low }
}

const rgbOf = (ink: string): [number, number, number] => {
  const part = (at: number) => Number.parseInt(ink.slice(at, at + 2), 16) / 255
  return [part(1), part(3), part(5)]
}

/** Relative luminance and contrast as WCAG 2.2 defines them. */
export function luminance(rgb: readonly [number, number, number]): number {
  const [r, g, b] = rgb.map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4)) as [number, number, number]
  return 0.2126 * r + 0.7152 * g + 0.0722 * b
}

export const contrast = (a: number, b: number): number => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)
