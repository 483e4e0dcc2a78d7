import { LANGUAGES, language } from '../words/language.svelte'

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
    return metres < 995 ? { number: whole(metres), unit: 'm' } : { number: decimal(metres / 1000), unit: 'km' }
  }
  const feet = metres / M_PER_FT
  return feet < 1995 ? { number: whole(feet), unit: 'ft' } : { number: decimal(metres / M_PER_MI), unit: 'mi' }
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

// Below 100 to the unit, above to ten, as the terminal does: finer would claim what no landing estimate knows.
function whole(value: number): string {
  return String(value < 100 ? Math.round(value) : Math.round(value / 10) * 10)
}

function twoFigures(value: number): string {
  if (value < 10) return decimal(value)
  const step = 10 ** (Math.floor(Math.log10(value)) - 1)
  return grouped(Math.round(value / step) * step)
}

function grouped(value: number): string {
  return String(value).replace(/\B(?=(\d{3})+$)/g, '\u202f')
}

/** What a flyer has a unit of their own for, beside distances and areas. */
export type Quantity = 'speed' | 'mass' | 'size' | 'temperature'

/** The units of each quantity: the metric preset's first, the imperial one's second. */
export const UNITS_OF = {
  speed: ['m/s', 'mph', 'km/h', 'kn'],
  mass: ['g', 'oz'],
  size: ['cm', 'in'],
  temperature: ['°C', '°F'],
} as const satisfies Record<Quantity, readonly string[]>

/** One of them. */
export type Unit = (typeof UNITS_OF)[Quantity][number]

/** The unit a preset has for a quantity. */
export const presetUnit = (quantity: Quantity, units: Units): Unit => UNITS_OF[quantity][units === 'metric' ? 0 : 1]

// What one of a unit is in m/s, g or mm. Exact by definition: international mile, nautical mile, avoirdupois pound of 1959.
const ONE_OF: Record<Exclude<Unit, '°C' | '°F'>, number> = {
  'm/s': 1,
  'km/h': 1 / 3.6,
  mph: M_PER_MI / 3600,
  kn: 1852 / 3600,
  g: 1,
  oz: 28.349523125,
  cm: 10,
  in: 25.4,
}

/** A value in m/s, g, mm or °C as the flyer reads it. */
export function measured(value: number, unit: Unit): Measure {
  const number = unit === '°C' ? value : unit === '°F' ? value * 1.8 + 32 : value / ONE_OF[unit]
  return { number: Math.abs(number) < 20 && unit !== 'g' ? decimal(number).replace(/[.,]0$/, '') : String(Math.round(number)), unit }
}

/** A number the flyer wrote in a unit, in m/s, g, mm or °C. */
export function valueOf(number: number, unit: Unit): number {
  return unit === '°C' ? number : unit === '°F' ? (number - 32) / 1.8 : number * ONE_OF[unit]
}

/** A number as people type it, with a decimal point or comma; null of what is none. */
export function typed(text: string): number | null {
  const plain = text.trim().replace(',', '.')
  return /^-?\d+(\.\d*)?$/.test(plain) ? Number(plain) : null
}

/**
 * A place as people write it: latitude and longitude apart by a comma, a semicolon or a space, with decimal points, or
 * with decimal commas if the two are apart by something else; N, S, E and W may stand with them. Null of what is none.
 */
export function typedPlace(text: string): { lat: number; lon: number } | null {
  const DEGREES = String.raw`([+-]?\d{1,3}(?:[.,]\d+)?)\s*°?\s*`
  const points = /\d\.\d/.test(text)
  // With decimal points every comma stands between the two.
  const plain = text.trim().replaceAll('−', '-').replace(points ? /,/g : /;/g, ' ')
  const found = new RegExp(`^${DEGREES}([NS]?)[\\s,;]+${DEGREES}([EWO]?)$`, 'i').exec(plain)
  if (!found) return null
  const [, north = '', ns = '', east = '', ew = ''] = found
  const signed = (number: string, back: boolean) => (back ? -1 : 1) * Number(number.replace(',', '.'))
  const [lat, lon] = [signed(north, /s/i.test(ns)), signed(east, /[wo]/i.test(ew))]
  return Math.abs(lat) <= 90 && Math.abs(lon) <= 180 ? { lat, lon } : null
}

const MARKS = new Map<string, ',' | '.'>()

/**
 * Decimal point or comma. Where the device is at home decides, for es-MX writes another mark than es-ES; but who reads
 * the screen in another language than the device's reads numbers as in that language.
 */
function mark(): ',' | '.' {
  const { navigator: device } = globalThis as { navigator?: Pick<Navigator, 'language' | 'languages'> }
  const home = device?.language ?? language.now
  const isChosen = Object.keys(LANGUAGES).some((it) => home.startsWith(it)) && !home.startsWith(language.now)
  const locale = isChosen ? (device?.languages.find((it) => it.startsWith(language.now)) ?? language.now) : home
  const known = MARKS.get(locale) ?? markOf(locale)
  MARKS.set(locale, known)
  return known
}

function markOf(locale: string): ',' | '.' {
  try {
    return new Intl.NumberFormat(locale).formatToParts(1.5).some((it) => it.type === 'decimal' && it.value === ',') ? ',' : '.'
  } catch {
    return language.now === 'es' ? ',' : '.' // a name of a place that is none, as some systems have it
  }
}

/** A number as it is, with the mark that people write where the device is at home. */
export const plain = (value: number): string => String(value).replace('.', mark())

/** One digit after the mark that people write where the device is at home: 1.5 or 1,5. */
export function decimal(value: number): string {
  return value.toFixed(1).replace('.', mark())
}
