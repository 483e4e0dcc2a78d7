/** The inks of the map, read from the one file that owns the palettes (`look.css`). */
export interface Palette {
  paper: string
  ground: string
  field: string
  grid: string
  ink: string
  accent: string
  accentRgb: [number, number, number]
  water: string
  plants: string
}

/** The palette in force on the page now. */
export function paletteNow(): Palette {
  const style = getComputedStyle(document.documentElement)
  const ink = (name: string) => style.getPropertyValue(name).trim()
  const accent = ink('--accent')
  return {
    paper: ink('--paper'),
    ground: ink('--map-ground'),
    field: ink('--map-field'),
    grid: ink('--map-grid'),
    ink: ink('--ink'),
    accent,
    accentRgb: [1, 3, 5].map((at) => Number.parseInt(accent.slice(at, at + 2), 16)) as [number, number, number],
    water: ink('--map-water'),
    plants: ink('--map-plants'),
  }
}
