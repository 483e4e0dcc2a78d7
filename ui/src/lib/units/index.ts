/** Which units the flyer reads. */
export type Units = 'metric' | 'imperial'

/** A number and its unit, apart so that the number can be set large. */
export interface Measure {
  number: string
  unit: string
}

// Exact by definition: international yard of 1959; the acre is 43 560 square feet.
export const M_PER_FT = 0.3048
const M_PER_MI = 5280 * M_PER_FT
const M2_PER_ACRE = 43_560 * M_PER_FT ** 2

/** A distance on the ground, rounded to what a walker can use. */
export function distance(metres: number, units: Units): Measure {
  if (units === 'metric') {
    return metres < 995 ? { number: whole(metres), unit: 'm' } : { number: (metres / 1000).toFixed(1), unit: 'km' }
  }
  const feet = metres / M_PER_FT
  return feet < 1995 ? { number: whole(feet), unit: 'ft' } : { number: (metres / M_PER_MI).toFixed(1), unit: 'mi' }
}

/** An area of ground. */
export function area(squareMetres: number, units: Units): Measure {
  const [small, large] =
    units === 'metric' ? ([1, 10_000] as const) : ([M_PER_FT ** 2, M2_PER_ACRE] as const)
  const names = units === 'metric' ? (['m²', 'ha'] as const) : (['sq ft', 'acres'] as const)
  if (squareMetres < large / 5) return { number: twoFigures(squareMetres / small), unit: names[0] }
  return { number: twoFigures(squareMetres / large), unit: names[1] }
}

/** Both halves with a space that does not break. */
export function joined({ number, unit }: Measure): string {
  return `${number}\u00a0${unit}`
}

/** A direction as three digits, the way a compass is read; 360 is written 000. */
export function bearing(degrees: number): string {
  const turn = Math.round(((degrees % 360) + 360) % 360) % 360
  return `${String(turn).padStart(3, '0')}°`
}

/** Whole minutes, rounded up as the terminal does. */
export function minutes(seconds: number): string {
  return String(Math.max(1, Math.ceil(seconds / 60)))
}

/** Hours and minutes, rounded down: light that is not quite there is none. */
export function hours(seconds: number): string {
  const all = Math.max(0, Math.floor(seconds / 60))
  return `${String(Math.floor(all / 60))}:${String(all % 60).padStart(2, '0')}`
}

/** A chance in percent; never 0 or 100, for nothing here is certain. */
export function chance(probability: number): string {
  const percent = Math.round(probability * 100)
  if (percent < 1) return '<\u202f1\u00a0%'
  if (percent > 99) return '>\u202f99\u00a0%'
  return `${String(percent)}\u00a0%`
}

// Below 100 to the unit, above to ten, as the terminal does: finer would claim what no landing estimate knows.
function whole(value: number): string {
  return String(value < 100 ? Math.round(value) : Math.round(value / 10) * 10)
}

function twoFigures(value: number): string {
  if (value < 10) return value.toFixed(1)
  const step = 10 ** (Math.floor(Math.log10(value)) - 1)
  return grouped(Math.round(value / step) * step)
}

function grouped(value: number): string {
  return String(value).replace(/\B(?=(\d{3})+$)/g, '\u202f')
}
